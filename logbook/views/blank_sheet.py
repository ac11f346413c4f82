"""The blank round sheet, to be printed and written on."""

from datetime import UTC

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from logbook.blank_sheet import build_blank_sheets
from logbook.forms.days import InstantForm
from logbook.slots import USUAL_INTERVAL_MIN, latest_slot
from station.access import needs, transmitter_for


@needs("read")
def blank_sheet(request: HttpRequest, code: str) -> HttpResponse:
    """Columns from the slot that is open, or from the instant that is asked for."""
    transmitter, now = transmitter_for(request.user, code), timezone.now()
    first = latest_slot(now, USUAL_INTERVAL_MIN).astimezone(UTC)
    asked = request.GET if "day" in request.GET else None
    form = InstantForm(asked, initial={"day": first.date(), "clock": f"{first:%H:%M}"})
    is_bad = form.is_bound and not form.is_valid()
    if form.is_bound and not is_bad:
        first = form.instant
    board = build_blank_sheets(transmitter, first, now)
    context = {"board": board, "form": form}
    return render(request, "logbook/blank_sheet.html", context, status=400 if is_bad else 200)
