"""What the analysis shows."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from health.boards.hall import build_hall
from station.access import needs


@needs("read")
def hall(request: HttpRequest) -> HttpResponse:
    board = build_hall(request.user.station, timezone.now())
    return render(request, "health/hall.html", {"board": board})
