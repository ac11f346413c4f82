"""The one settings file; what differs between machines comes from the environment."""

from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy as _

from station.environment import (
    read_data_dir,
    read_database,
    read_flag,
    read_list,
    read_secret,
    read_text,
    read_whole_number,
)

DATA_DIR = read_data_dir()

DEBUG = read_flag("DEBUG")
SECRET_KEY = read_secret("SECRET_KEY") or ("only-for-debugging" if DEBUG else "")
if not SECRET_KEY:
    raise ImproperlyConfigured(
        "SECRET_KEY is not set: give a long random text, or let 'manage.py serve' make one "
        "in the data folder; DEBUG=1 on a developer's machine."
    )
ALLOWED_HOSTS = read_list("ALLOWED_HOSTS", "127.0.0.1,localhost,[::1]")
CSRF_TRUSTED_ORIGINS = read_list("TRUSTED_ORIGINS")

WITHOUT_HEALTH = read_flag("WITHOUT_HEALTH")

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "axes",
    "station",
    "logbook",
]
if not WITHOUT_HEALTH:
    INSTALLED_APPS.append("health")

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "station.middleware.ContentSecurityPolicy",
    "station.middleware.NoStoreWhenSignedIn",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "logbook.middleware.AskAboutTheClock",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "station.urls"
WSGI_APPLICATION = "station.wsgi.application"
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.debug",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "station.context.page",
            ],
        },
    },
]

DATABASES = {"default": read_database("DATABASE_URL", DATA_DIR / "station.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "station.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign_in"

# One person's slips lock that name from that address, never the shared console for all.
AXES_FAILURE_LIMIT = 6
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_TEMPLATE = "station/locked.html"
AXES_RESET_ON_SUCCESS = True

# A session lasts a twelve-hour shift and its hand-over.
SESSION_COOKIE_AGE = read_whole_number("SESSION_HOURS", 13) * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = read_flag("HTTPS")
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SECURE_CSP = {
    "default-src": ["'self'"],
    # The chart library's own style element, which is empty: its digest, so that no other passes.
    "style-src": ["'self'", "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"],
    "img-src": ["'self'", "data:"],
    "object-src": ["'none'"],
    "base-uri": ["'self'"],
    "form-action": ["'self'"],
    "frame-ancestors": ["'none'"],
}

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", _("English"))]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = DEBUG

DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

# How long a saved round waits for its judgement before the person is answered.
JUDGE_BUDGET_MS = read_whole_number("JUDGE_BUDGET_MS", 200)

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": read_text("LOG_LEVEL", "WARNING")},
    "loggers": {
        "station": {"level": "INFO"},
        "logbook": {"level": "INFO"},
        "health": {"level": "INFO"},
    },
}
