"""One transmitter's record at an instant."""

from datetime import UTC, datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from health.boards.record import build_record
from logbook.forms.days import InstantForm
from station.access import needs, transmitter_for


@needs("read")
def record(request: HttpRequest, code: str) -> HttpResponse:
    """Now, or at the instant that is asked for; what is no instant is said at its field."""
    transmitter, now = transmitter_for(request.user, code), timezone.now()
    asked = request.GET if "day" in request.GET else None
    form = InstantForm(asked, initial={"day": now.astimezone(UTC).date(), "clock": clock_of(now)})
    is_bad = form.is_bound and not form.is_valid()
    at = form.instant if form.is_bound and not is_bad else now
    board = build_record(transmitter, at)
    context = {"board": board, "form": form}
    return render(request, "health/record.html", context, status=400 if is_bad else 200)


def clock_of(now: datetime) -> str:
    return f"{now.astimezone(UTC):%H:%M}"
