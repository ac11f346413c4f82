"""One entry read whole."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from logbook.access import entry_for, may_correct
from logbook.entry_page import build_entry_page
from logbook.prints import print_mark
from station.access import needs


@needs("read")
def entry(request: HttpRequest, no: int) -> HttpResponse:
    found = entry_for(request.user, no)
    return render(
        request,
        "logbook/entry.html",
        {
            "board": build_entry_page(found),
            "may_correct": may_correct(request.user, found),
            "mark": print_mark(request),
        },
    )
