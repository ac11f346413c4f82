"""What an entry of each kind says, as plain data for the chain: codes instead of ids.

The same functions serve the writing and the verification, so a row that was changed behind the
log's back no longer gives the digest that was written.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any, Protocol

from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Prefetch, prefetch_related_objects

from logbook.ledger import Body, utc_text
from logbook.models import (
    Correction,
    Entry,
    FlagAction,
    Kind,
    MeterChange,
    Reading,
    Remark,
    Round,
    StateChange,
    TubeMove,
)
from logbook.models.correction import Scope
from logbook.models.entry import EntryChild
from logbook.models.meter_change import FACTS
from logbook.whole import in_chunks
from station.models import Antenna, Meter, Socket, Station

ReadingBody = list[object]


class AnyReading(Protocol):
    """A reading's row, or the same before it is one."""

    @property
    def meter(self) -> Meter: ...
    @property
    def minute(self) -> int: ...
    @property
    def value(self) -> float | None: ...
    @property
    def code(self) -> str: ...
    @property
    def bound(self) -> str: ...
    @property
    def mark(self) -> str: ...
    @property
    def text(self) -> str: ...


def reading_body(reading: AnyReading) -> ReadingBody:
    """One reading as a list: meter code, minute, value, code, bound, mark, text."""
    return [
        reading.meter.code,
        reading.minute,
        reading.value,
        reading.code,
        reading.bound,
        reading.mark,
        reading.text,
    ]


def readings_body(readings: Iterable[AnyReading]) -> list[ReadingBody]:
    return sorted((reading_body(reading) for reading in readings), key=lambda row: str(row[0]))


def round_body(row: Round, readings: Iterable[AnyReading]) -> Body:
    """Without a sheet of paper nothing is said of one, as in the logs before there were any."""
    of_paper = {"paper_sheet": row.paper_sheet} if row.paper_sheet else {}
    return {
        **of_paper,
        "slot": utc_text(row.slot),
        "kind": row.kind,
        "modulation": row.modulation,
        "duplicate_of": row.duplicate_of.entry.no if row.duplicate_of else None,
        "readings": readings_body(readings),
    }


def state_body(row: StateChange) -> Body:
    return {
        "state": row.state,
        "frequency_khz": row.frequency_khz,
        "antenna": row.antenna.code if row.antenna else None,
        "coil_set": row.coil_set.code if row.coil_set else None,
        "power_kw": row.power_kw,
        "set_by": row.set_by,
        "is_retune": row.is_retune,
        "is_estimated": row.is_estimated,
        "reason": row.reason,
    }


def correction_body(row: Correction, ended: Iterable[Reading], brought: Iterable[Reading]) -> Body:
    """A correction of whole entries names none of their readings: they end with the entry."""
    return {
        "of": row.of.no,
        "scope": row.scope,
        "reason": row.reason,
        "ended": sorted(reading.meter.code for reading in ended),
        "brought": readings_body(brought),
    }


def remark_body(row: Remark) -> Body:
    return {"text": row.text, "about": row.about.no if row.about else None}


def flag_body(row: FlagAction) -> Body:
    return {
        "rule": row.rule,
        "meter": row.meter.code,
        "first_no": row.first_no,
        "verb": row.verb,
        "words": row.words,
        "comment": row.comment,
        **said_later(row),
    }


def tube_body(row: TubeMove) -> Body:
    return {
        "tube": row.tube.serial,
        "from": socket_code(row.from_socket),
        "to": socket_code(row.to_socket),
        "place": row.place,
        "reason": row.reason,
        "note": row.note,
    }


def socket_code(socket: Socket | None) -> str | None:
    """A socket by its transmitter, stage and own code."""
    if socket is None:
        return None
    return f"{socket.stage.transmitter.code}/{socket.stage.code}/{socket.code}"


def meter_body(row: MeterChange) -> Body:
    facts = {name: getattr(row, name) for name in FACTS}
    return {
        "meter": row.meter.code,
        "old_last": row.old_last,
        "new_first": row.new_first,
        **facts,
        "note": row.note,
    }


def plain_body(row: EntryChild) -> Body:
    """What a kind says whose body is just its columns: entries by number, instants in UTC."""
    return {**{name: plain_value(getattr(row, name)) for name in row.said}, **said_later(row)}


def said_later(row: EntryChild) -> Body:
    """The columns of a later release, where they are filled."""
    filled = [name for name in row.said_later if getattr(row, name) not in (None, "")]
    return {name: plain_value(getattr(row, name)) for name in filled}


def plain_value(value: Any) -> Any:
    if isinstance(value, Entry):
        return value.no
    if isinstance(value, Antenna):
        return value.code
    if isinstance(value, datetime):
        return utc_text(value)
    return value.isoformat() if isinstance(value, date) else value


def stored_round(entry: Entry) -> Body:
    readings = [r for r in entry.round.readings.all() if r.brought_by_id is None]
    return round_body(entry.round, readings)


def stored_correction(entry: Entry) -> Body:
    is_whole = entry.correction.scope in {Scope.ANEW, Scope.VOID}
    ended = [] if is_whole else entry.ended_readings.all()
    return correction_body(entry.correction, ended, entry.brought.all())


STORED: dict[str, Callable[[Entry], Body]] = {
    Kind.ROUND: stored_round,
    Kind.STATE: lambda entry: state_body(entry.statechange),
    Kind.CORRECTION: stored_correction,
    Kind.REMARK: lambda entry: remark_body(entry.remark),
    Kind.FLAG: lambda entry: flag_body(entry.flagaction),
    Kind.TUBE: lambda entry: tube_body(entry.tubemove),
    Kind.METER: lambda entry: meter_body(entry.meterchange),
    Kind.WAVE: lambda entry: plain_body(entry.wavechange),
    Kind.CHECK: lambda entry: plain_body(entry.checkmade),
    Kind.INTERRUPTION: lambda entry: plain_body(entry.interruption),
    Kind.RESTORED: lambda entry: plain_body(entry.restoration),
    Kind.PERMIT: lambda entry: plain_body(entry.permit),
    Kind.RETURNED: lambda entry: plain_body(entry.permitreturn),
    Kind.HANDOVER: lambda entry: plain_body(entry.handover),
    Kind.DUTY: lambda entry: plain_body(entry.dutytaken),
    Kind.SIGNED: lambda entry: plain_body(entry.signature),
    Kind.HOLD: lambda entry: plain_body(entry.hold),
    Kind.RELEASED: lambda entry: plain_body(entry.release),
    Kind.DECISION: lambda entry: plain_body(entry.weekdecision),
}


def stored_bodies(station: Station) -> Iterator[tuple[Entry, Body]]:
    """Every entry of a station in order with the body its rows give now."""
    entries = (
        Entry.objects.filter(station=station)
        .order_by("no")
        .select_related("station", "transmitter", "by", "in_place_of")
    )
    brought = brought_readings()
    for chunk in in_chunks(entries):
        with_readings(chunk, station, brought)
        for entry in chunk:
            yield entry, stored_body(entry)


def brought_readings() -> dict[int, list[int]]:
    """The keys of the readings that each correction brought. No index knows them: read once for
    the whole log, not for every chunk of it."""
    found: dict[int, list[int]] = defaultdict(list)
    rows = Reading.objects.filter(brought_by__isnull=False).order_by()
    for entry, reading in rows.values_list("brought_by", "pk"):
        found[entry].append(reading)
    return found


def with_readings(
    chunk: Sequence[Entry], station: Station, brought: Mapping[int, list[int]]
) -> None:
    """Fetch what the rounds and corrections of a chunk say of readings, each by its index."""
    keys = [entry.pk for entry in chunk]
    new = [reading for key in keys for reading in brought.get(key, ())]
    of_rounds = Reading.objects.of_rounds(station.pk, keys)
    struck = Reading.objects.filter(ended_by__isnull=False)
    fetched = {
        "round__readings": of_rounds,
        "ended_readings": struck,
        "brought": Reading.objects.filter(pk__in=new),
    }
    prefetch_related_objects(
        chunk, *(Prefetch(path, rows.select_related("meter")) for path, rows in fetched.items())
    )


def stored_body(entry: Entry) -> Body:
    """The body that the entry's rows give now; empty where the row of its kind is gone."""
    try:
        return STORED[entry.kind](entry)
    except (KeyError, ObjectDoesNotExist):
        return {}
