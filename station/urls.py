"""The site's addresses; each app brings its own, and health only while it is installed."""

from django.apps import apps
from django.conf import settings
from django.contrib.auth.views import LogoutView
from django.urls import include, path

from station import schedule_views, views
from station.access import needs
from station.admin import site

urlpatterns = [
    path("alive", views.alive, name="alive"),
    path(
        "sign-in",
        views.SignIn.as_view(),
        name="sign_in",
    ),
    path("start", views.start, name="start"),
    path("sign-out", LogoutView.as_view(), name="sign_out"),
    path("password", needs("read")(views.OwnPassword.as_view()), name="password"),
    path("schedule", schedule_views.schedule, name="schedule"),
    path("schedule/new", schedule_views.schedule_new, name="schedule_new"),
    path("", views.home, name="home"),
    path("log/", include("logbook.urls")),
    path("admin/", site.urls),
]
if apps.is_installed("health"):
    urlpatterns.append(path("", include("health.urls")))
if settings.DEBUG:
    urlpatterns.append(path("parts", views.parts, name="parts"))

handler403 = "station.views.refused"
handler404 = "station.views.not_found"
handler500 = "station.views.failed"
