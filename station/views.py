"""Pages that belong to no room: the way in, and the pages for what went wrong."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse


@login_not_required
def alive(request: HttpRequest) -> HttpResponse:
    return HttpResponse("alive\n", content_type="text/plain")


def home(request: HttpRequest) -> HttpResponse:
    """The hall where the analysis is installed, else the log's own list of transmitters."""
    try:
        return redirect(reverse("hall"))
    except NoReverseMatch:
        return redirect("transmitters")


@login_not_required
def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "station/403.html", status=403)


@login_not_required
def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "station/404.html", status=404)


@login_not_required
def failed(request: HttpRequest) -> HttpResponse:
    return render(request, "station/500.html", status=500)
