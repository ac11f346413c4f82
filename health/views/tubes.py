"""The planner's page of tubes and their hours."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from health.boards.tubes import build_tube_board
from station.access import needs


@needs("read")
def tubes(request: HttpRequest) -> HttpResponse:
    board = build_tube_board(request.user.station, timezone.now())
    return render(request, "health/tubes.html", {"board": board})
