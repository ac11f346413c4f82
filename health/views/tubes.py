"""The planner's page of tubes and their hours; one tube's emission and filament."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from health.boards.tube_emission import build_tube_emission
from health.boards.tubes import build_tube_board
from health.forms import USUAL_GAP_H, GapForm
from station.access import needs, own
from station.models import Tube


@needs("read")
def tubes(request: HttpRequest) -> HttpResponse:
    board = build_tube_board(request.user.station, timezone.now())
    return render(request, "health/tubes.html", {"board": board})


@needs("read")
def tube_emission(request: HttpRequest, serial: str) -> HttpResponse:
    """With what a gap of so many hours costs; what is no number of hours is said at its field."""
    tube = own(request.user, Tube.objects.select_related("station", "tube_type"), serial=serial)
    form = GapForm(
        request.GET if "gap" in request.GET else None, initial={"gap": f"{USUAL_GAP_H:g}"}
    )
    is_good = form.is_bound and form.is_valid()
    gap_hours = form.cleaned_data["gap"] if is_good else USUAL_GAP_H
    board = build_tube_emission(tube, timezone.now(), gap_hours)
    status = 200 if is_good or not form.is_bound else 400
    return render(
        request, "health/tube_emission.html", {"board": board, "form": form}, status=status
    )
