"""Headers that every answer carries."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

Answer = Callable[[HttpRequest], HttpResponse]


class ContentSecurityPolicy:
    """Writes SECURE_CSP as a header; Django 6 brings its own."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response
        self.policy = "; ".join(
            f"{name} {' '.join(sources)}" for name, sources in settings.SECURE_CSP.items()
        )

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        return response


class NoStoreWhenSignedIn:
    """A shared console must not show one person's page to the next from its cache."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated:
            response.headers["Cache-Control"] = "no-store"
        return response
