"""Which tables can be had, and one of them as the text of a CSV file, line by line."""

import csv
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from logbook.cell_text import guarded
from logbook.exporting.entries import entry_lines
from logbook.exporting.readings import Line, Span, history_lines, reading_lines, round_lines
from logbook.models import Kind
from station.models import Station, Transmitter

BYTE_ORDER_MARK = "\ufeff"  # by which a spreadsheet knows UTF-8


@dataclass(frozen=True)
class Table:
    name: str
    label: Promise
    lines: Callable[[Station, Sequence[Transmitter], Span], Iterator[Line]]


def of_readings(lines: Callable[[Sequence[Transmitter], Span], Iterator[Line]]) -> Callable:
    return lambda station, transmitters, span: lines(transmitters, span)


def of_kind(kind: Kind | None) -> Callable:
    return partial(entry_lines, kind=kind)


TABLES = {
    table.name: table
    for table in (
        Table("rounds", _("rounds, a line each"), of_readings(round_lines)),
        Table("readings", _("readings, a line each"), of_readings(reading_lines)),
        Table("history", _("readings with what was struck"), of_readings(history_lines)),
        Table("states", _("changes of state and wave"), of_kind(Kind.STATE)),
        Table("tubes", _("moves of tubes"), of_kind(Kind.TUBE)),
        Table("instruments", _("changes of instruments"), of_kind(Kind.METER)),
        Table("flags", _("actions about flags"), of_kind(Kind.FLAG)),
        Table("entries", _("all entries in words"), of_kind(None)),
    )
}


class Echo:
    """A file that gives back what is written into it."""

    def write(self, text: str) -> str:
        return text


def csv_text(lines: Iterator[Line]) -> Iterator[str]:
    """The lines as CSV, no cell of them a formula."""
    writer = csv.writer(Echo())
    yield BYTE_ORDER_MARK
    for line in lines:
        yield writer.writerow([safe(cell) for cell in line])


def safe(cell: Any) -> Any:
    return guarded(cell) if isinstance(cell, str) else cell
