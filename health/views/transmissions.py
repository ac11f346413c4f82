"""The transmissions of a day."""

from datetime import UTC, datetime, timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from health.boards.transmissions import build_transmissions
from health.views.week import parsed_day
from station.access import needs


@needs("read")
def today(request: HttpRequest) -> HttpResponse:
    return redirect("transmissions", timezone.now().date().isoformat())


@needs("read")
def transmissions(request: HttpRequest, day: str) -> HttpResponse:
    wanted = parsed_day(day)
    if wanted is None:
        raise Http404
    since = datetime(wanted.year, wanted.month, wanted.day, tzinfo=UTC)
    step = timedelta(days=1)
    board = build_transmissions(request.user.station, since, since + step, timezone.now())
    context = {"board": board, "before": since - step, "after": since + step}
    return render(request, "health/transmissions.html", context)
