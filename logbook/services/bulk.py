"""Writing many past entries of one station at once: an import, the demo's history.

The numbers, digests and rows are those of a save one by one. Only the way into the database
differs: COPY on PostgreSQL, executemany on SQLite. Whether an entry was written before is the
caller's question.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Any, NamedTuple

from django.db import connection, models, transaction

from logbook.bodies import round_body, state_body
from logbook.ledger import NOTHING_BEFORE, Draft, head, lock, numbered
from logbook.models import Entry, Kind, Reading, Round, RoundKind, Source, StateChange
from logbook.services.states import StateDraft
from station.models import Meter, Person, Station, Transmitter

CHUNK = 2000
READING_COLUMNS = (
    *("station_id", "round_id", "meter_id", "minute"),
    *("value", "code", "bound", "mark", "text"),
)


class PastReading(NamedTuple):
    """One meter of a past round; a blank cell has none."""

    meter: Meter
    minute: int
    value: float | None
    code: str = ""
    bound: str = ""
    mark: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Past:
    """A past entry with the row of its kind, and a round's readings."""

    draft: Draft
    row: Round | StateChange
    readings: Sequence[PastReading] = ()


def past_round(
    transmitter: Transmitter,
    readings: Sequence[PastReading],
    *,
    slot: datetime,
    observed_at: datetime,
    modulation: str,
    by: Person,
    at: datetime,
    kind: str = RoundKind.ROUTINE,
    source: Source = Source.IMPORT,
) -> Past:
    """A round that counts: no other round of its slot may stand in the log."""
    station = transmitter.station
    row = Round(station=station, slot=slot, kind=kind, modulation=modulation)
    body = round_body(row, readings)
    draft = Draft(
        Kind.ROUND, station, transmitter, observed_at, at, by=by, body=body, source=source
    )
    return Past(draft, row, readings)


def past_state(
    change: StateDraft, *, by: Person, at: datetime, source: Source = Source.IMPORT
) -> Past:
    row = change.row()
    draft = Draft(
        Kind.STATE,
        change.transmitter.station,
        change.transmitter,
        change.observed_at,
        at,
        by=by,
        body=state_body(row),
        source=source,
    )
    return Past(draft, row)


def write_past(
    station: Station,
    past: Iterable[Past],
    *,
    progress: Callable[[int], None] = lambda written: None,
) -> int:
    """Append all entries in the order given, in one transaction; returns how many.

    ``progress`` is told how many are written, chunk by chunk.
    """
    written = 0
    with transaction.atomic():
        lock(station)
        last = head(station)
        no, before = (last.no, bytes(last.digest)) if last else (0, NOTHING_BEFORE)
        for chunk in chunks(past):
            for one, key in zip(chunk, allotted_keys(len(chunk)), strict=True):
                entry = numbered(one.draft, no + 1, before)
                entry.pk = key
                one.row.entry = entry
                no, before = entry.no, entry.digest
            write_chunk(chunk)
            written += len(chunk)
            progress(written)
    return written


def chunks(past: Iterable[Past]) -> Iterator[list[Past]]:
    remaining = iter(past)
    while chunk := list(islice(remaining, CHUNK)):
        yield chunk


def write_chunk(chunk: Sequence[Past]) -> None:
    insert_models(Entry, [one.row.entry for one in chunk])
    for model in (Round, StateChange):
        insert_models(model, [one.row for one in chunk if isinstance(one.row, model)])
    insert(Reading, READING_COLUMNS, reading_rows(chunk))


def reading_rows(chunk: Iterable[Past]) -> Iterator[tuple[Any, ...]]:
    """The columns of READING_COLUMNS; the table's own default gives each its id."""
    for one in chunk:
        station_id, round_id = one.row.station_id, one.row.entry_id
        for meter, *columns in one.readings:
            yield (station_id, round_id, meter.id, *columns)


def insert_models(model: type[models.Model], rows: Sequence[models.Model]) -> None:
    fields = model._meta.local_concrete_fields
    columns = [prepared(field, [getattr(row, field.attname) for row in rows]) for field in fields]
    insert(model, [field.column for field in fields], zip(*columns, strict=True))


def prepared(field: models.Field, values: list[Any]) -> list[Any]:
    """The values as the driver takes them: only instants differ between the databases."""
    if isinstance(field, models.DateTimeField):
        return [connection.ops.adapt_datetimefield_value(value) for value in values]
    return values


def insert(
    model: type[models.Model], columns: Sequence[str], rows: Iterable[tuple[Any, ...]]
) -> None:
    """All rows by the database's fastest way; the only code here that differs by database."""
    table = f'"{model._meta.db_table}" ({", ".join(columns)})'
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
        else:
            places = ", ".join(["%s"] * len(columns))
            cursor.executemany(f"INSERT INTO {table} VALUES ({places})", rows)


def allotted_keys(count: int) -> list[int]:
    """As many new ids of entries, so that the next save finds a free one after them."""
    table = Entry._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
                [table, count],
            )
            return [row[0] for row in cursor.fetchall()]
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        used = cursor.fetchone()
    first = used[0] + 1 if used else 1
    return list(range(first, first + count))
