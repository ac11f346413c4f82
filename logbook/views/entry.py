"""One entry read whole."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from logbook.access import entry_for, may_correct
from logbook.entry_page import build_entry_page
from logbook.ledger import head
from logbook.prints import print_mark
from logbook.words import short_digest
from station.access import needs


@needs("read")
def entry(request: HttpRequest, no: int) -> HttpResponse:
    found = entry_for(request.user, no)
    last = head(found.station)
    return render(
        request,
        "logbook/entry.html",
        {
            "board": build_entry_page(found),
            "may_correct": may_correct(request.user, found),
            "mark": print_mark(request),
            "head": last,
            "digest": short_digest(last.digest) if last else "",
            "made_at": timezone.now(),
        },
    )
