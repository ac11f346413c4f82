"""The day sheet, and the way to the day that was asked for."""

from datetime import date

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.day_sheet import build_day_sheet
from logbook.prints import print_mark
from logbook.slots import is_sensible
from logbook.times import log_day_of
from station.access import needs, transmitter_for


def read_day(text: str) -> date | None:
    """The day that was written as 2026-03-29, None if it is none."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if is_sensible(day) else None


@needs("read")
def day_sheet(request: HttpRequest, code: str, day: str) -> HttpResponse:
    transmitter = transmitter_for(request.user, code)
    wanted = read_day(day)
    if wanted is None:
        raise Http404
    board = build_day_sheet(transmitter, wanted, timezone.now())
    return render(request, "logbook/day_sheet.html", {"board": board, "mark": print_mark(request)})


@needs("read")
def choose_day(request: HttpRequest, code: str) -> HttpResponse:
    """To the day that was asked for, else to the present one."""
    transmitter = transmitter_for(request.user, code)
    typed = request.GET.get("day", "").strip()
    today = log_day_of(transmitter.station, timezone.now())
    wanted = read_day(typed) if typed else today
    if wanted is not None:
        return redirect("day_sheet", code=transmitter.code, day=wanted.isoformat())
    problem = _("'%(typed)s' is not a day: write it as year-month-day, such as %(example)s.") % {
        "typed": typed[:40],
        "example": today.isoformat(),
    }
    return render(
        request,
        "logbook/day_sheet_choose.html",
        {"transmitter": transmitter, "typed": typed[:40], "problem": problem},
        status=400,
    )
