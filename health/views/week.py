"""The weekly trend board."""

from datetime import UTC, date, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _

from health.boards.week import build_week, week_begin
from health.charts import week_payload
from station.access import needs

FIRST_YEAR = 1970


@needs("read")
def this_week(request: HttpRequest) -> HttpResponse:
    """The week of a day that is asked for, else the one that is running."""
    wished = request.GET.get("day", "")
    day = parsed_day(wished)
    if wished and day is None:
        messages.warning(request, _("That is no day. This is the week that is running."))
    return redirect("week", monday_of(day or timezone.now().date()).isoformat())


@needs("read")
def week(request: HttpRequest, day: str) -> HttpResponse:
    wished = parsed_day(day)
    if wished is None:
        return redirect("this_week")
    if wished != monday_of(wished):
        return redirect("week", monday_of(wished).isoformat())
    since = datetime(wished.year, wished.month, wished.day, tzinfo=UTC)
    board = build_week(request.user.station, since, timezone.now())
    return render(request, "health/week.html", {"board": board, "payload": week_payload(board)})


def monday_of(day: date) -> date:
    return week_begin(datetime(day.year, day.month, day.day, tzinfo=UTC)).date()


def parsed_day(text: str) -> date | None:
    """A day of a year in which a log can have been kept."""
    try:
        day = parse_date(text)
    except ValueError:
        return None
    return day if day and FIRST_YEAR < day.year < 9000 else None
