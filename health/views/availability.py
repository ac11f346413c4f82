"""The availability of a month."""

from datetime import timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from health.boards.availability import build_availability
from logbook.months import parsed_month
from station.access import needs


@needs("read")
def this_month(request: HttpRequest) -> HttpResponse:
    return redirect("availability", f"{timezone.now():%Y-%m}")


@needs("read")
def availability(request: HttpRequest, month: str) -> HttpResponse:
    span = parsed_month(month)
    if span is None:
        raise Http404
    since, until = span
    board = build_availability(request.user.station, since, until, timezone.now())
    context = {"board": board, "before": f"{since - timedelta(days=1):%Y-%m}"}
    context["after"] = f"{until:%Y-%m}"
    return render(request, "health/availability.html", context)
