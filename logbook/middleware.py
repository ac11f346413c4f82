"""Asks about a clock that cannot be trusted before anything is written with it."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from logbook.clock_watch import WATCH, clock_doubt
from station.access import may

Answer = Callable[[HttpRequest], HttpResponse]
WRITING = {"log", "correct", "sign", "move_tubes"}
ANSWER = "clock_meant"


class AskAboutTheClock:
    """Every form that writes the log goes through here; what was typed is sent on unchanged."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], _args: Any, _names: Any
    ) -> HttpResponse | None:
        right = getattr(view, "right", "")
        if request.method != "POST" or right not in WRITING or not may(request.user, right):
            return None
        doubt = clock_doubt(request.user.station, timezone.now())
        if doubt is None:
            return None
        if request.POST.get(ANSWER) == doubt.name:
            WATCH.start()
            return None
        typed = [
            (name, value)
            for name, values in request.POST.lists()
            for value in values
            if name not in {ANSWER, "csrfmiddlewaretoken"}
        ]
        context = {"doubt": doubt, "typed": typed, "answer": ANSWER}
        return render(request, "logbook/clock_doubt.html", context)
