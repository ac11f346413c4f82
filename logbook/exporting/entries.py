"""The entries of every kind, and the kinds that have columns of their own."""

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from itertools import chain
from typing import Any

from logbook.bodies import socket_code
from logbook.cell_text import exact
from logbook.exporting.readings import Line, Span, instant_text
from logbook.models import Entry, Kind
from logbook.models.meter_change import FACTS
from logbook.whole import in_chunks
from logbook.words import entry_words
from station.models import Station, Transmitter

OF_ENTRY = ("entry", "observed_at [UTC]", "entered_at [UTC]", "transmitter", "by", "source")
STRUCK = "struck_by"

Columns = dict[str, Callable[[Entry], Any]]

STATE: Columns = {
    "state": lambda entry: entry.statechange.state,
    "frequency_khz [kHz]": lambda entry: exact(entry.statechange.frequency_khz),
    "antenna": lambda entry: code_of(entry.statechange.antenna),
    "coil_set": lambda entry: code_of(entry.statechange.coil_set),
    "power_kw [kW]": lambda entry: exact(entry.statechange.power_kw),
    "set_by": lambda entry: entry.statechange.set_by,
    "is_retune": lambda entry: int(entry.statechange.is_retune),
    "is_estimated": lambda entry: int(entry.statechange.is_estimated),
    "reason": lambda entry: entry.statechange.reason,
}
TUBE: Columns = {
    "tube": lambda entry: entry.tubemove.tube.serial,
    "from": lambda entry: socket_code(entry.tubemove.from_socket),
    "to": lambda entry: socket_code(entry.tubemove.to_socket),
    "place": lambda entry: entry.tubemove.place,
    "reason": lambda entry: entry.tubemove.reason,
    "note": lambda entry: entry.tubemove.note,
}
METER: Columns = {
    "meter": lambda entry: entry.meterchange.meter.code,
    "unit": lambda entry: entry.meterchange.meter.unit,
    "old_last": lambda entry: exact(entry.meterchange.old_last),
    "new_first": lambda entry: exact(entry.meterchange.new_first),
    **{name: lambda entry, name=name: getattr(entry.meterchange, name) for name in FACTS},
    "note": lambda entry: entry.meterchange.note,
}
FLAG: Columns = {
    "meter": lambda entry: entry.flagaction.meter.code,
    "rule": lambda entry: entry.flagaction.rule,
    "first_entry": lambda entry: entry.flagaction.first_no,
    "action": lambda entry: entry.flagaction.verb,
    "flag": lambda entry: entry.flagaction.words,
    "comment": lambda entry: entry.flagaction.comment,
    "until [UTC]": lambda entry: instant_or_nothing(entry.flagaction.until),
    "order_number": lambda entry: entry.flagaction.order_number,
}
ANY: Columns = {
    "kind": lambda entry: entry.kind,
    "words": entry_words,
    "digest": lambda entry: bytes(entry.digest).hex(),
}
OF_KIND = {Kind.STATE: STATE, Kind.TUBE: TUBE, Kind.METER: METER, Kind.FLAG: FLAG}


def entry_lines(
    station: Station, transmitters: Sequence[Transmitter], span: Span, kind: Kind | None
) -> Iterator[Line]:
    """A line for each entry of a kind, struck ones too; without a kind each entry in one sentence.

    Entries about no transmitter are among them where all transmitters are asked for.
    """
    columns = OF_KIND.get(kind, ANY)
    yield [*OF_ENTRY, *columns, STRUCK]
    for entry in entries(station, transmitters, span, kind):
        yield [*entry_cells(entry), *(cell(entry) for cell in columns.values()), struck_by(entry)]


def entries(
    station: Station, transmitters: Sequence[Transmitter], span: Span, kind: Kind | None
) -> Iterator[Entry]:
    since, until = span
    rows = Entry.objects.filter(
        station=station, observed_at__gte=since, observed_at__lt=until
    ).select_related("transmitter", "ended_by", "by")
    if kind:
        rows = rows.filter(kind=kind)
    if len(transmitters) < Transmitter.objects.filter(station=station).count():
        rows = rows.filter(transmitter__in=transmitters)
    return chain.from_iterable(in_chunks(rows.order_by("no")))


def entry_cells(entry: Entry) -> list[Any]:
    instants = [instant_text(entry.observed_at), instant_text(entry.entered_at)]
    code = entry.transmitter.code if entry.transmitter else ""
    return [entry.no, *instants, code, entry.name_as_written, entry.source]


def struck_by(entry: Entry) -> int | str:
    return entry.ended_by.no if entry.ended_by else ""


def instant_or_nothing(instant: datetime | None) -> str:
    return instant_text(instant) if instant else ""


def code_of(row: Any) -> str:
    return row.code if row else ""
