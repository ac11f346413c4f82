"""The mark that a printed sheet bears: its first print, or a reprint with the time of both."""

import re
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest

from logbook.ledger import head
from logbook.models import Printing
from station.models import Person, Station

NUMBER = re.compile(r"[1-9]\d{0,4}", re.ASCII)


@dataclass(frozen=True)
class PrintMark:
    """``no`` counts the prints of this page from 1; 0 is a print that nobody asked for here."""

    no: int
    address: str
    printed_at: datetime | None = None
    first_at: datetime | None = None
    by: str = ""

    @property
    def is_reprint(self) -> bool:
        return self.no > 1


def print_mark(request: HttpRequest) -> PrintMark:
    """The mark of the page that the request shows, by the number in its address."""
    asked, address = request.GET.get("print", ""), page_address(request)
    if not NUMBER.fullmatch(asked):
        return PrintMark(0, address)
    prints = Printing.objects.filter(station=request.user.station, address=address)
    made = list(prints.select_related("by")[: int(asked)])
    if len(made) < int(asked):
        return PrintMark(0, address)
    last = made[-1]
    return PrintMark(len(made), address, last.printed_at, made[0].printed_at, last.by.written_name)


def page_address(request: HttpRequest) -> str:
    """The page's path with what it was asked for, the print's own number left out."""
    query = request.GET.copy()
    query.pop("print", None)
    return f"{request.path}?{query.urlencode()}" if query else request.path


def note_print(station: Station, address: str, *, by: Person, at: datetime) -> int:
    """Write down that a page is printed; returns which print of it this is."""
    last = head(station)
    up_to_no = last.no if last else 0
    Printing.objects.create(
        station=station, address=address, printed_at=at, by=by, up_to_no=up_to_no
    )
    return Printing.objects.filter(station=station, address=address).count()
