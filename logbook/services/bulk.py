"""Writing many past entries of one station at once: an import, the demo's history.

The numbers, digests and rows are those of a save one by one. Only the way into the database
differs: COPY on PostgreSQL, executemany on SQLite. Whether an entry was written before is the
caller's question.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import connection, transaction

from logbook.bodies import round_body, state_body
from logbook.inserts import ReadingRow, insert_models, insert_readings
from logbook.ledger import NOTHING_BEFORE, Draft, head, lock, numbered
from logbook.models import Entry, Kind, Round, RoundKind, Source, StateChange
from logbook.services.states import StateDraft
from station.batches import batched
from station.models import Person, Station, Transmitter

CHUNK = 2000


@dataclass(frozen=True, slots=True)
class Past:
    """A past entry with the row of its kind, and a round's readings."""

    draft: Draft
    row: Round | StateChange
    readings: Sequence[ReadingRow] = ()


def past_round(
    transmitter: Transmitter,
    readings: Sequence[ReadingRow],
    *,
    slot: datetime,
    observed_at: datetime,
    modulation: str,
    by: Person,
    at: datetime,
    kind: str = RoundKind.ROUTINE,
    source: Source = Source.IMPORT,
    sent: bytes | None = None,
) -> Past:
    """A round that counts: no other round of its slot may stand in the log.

    ``sent`` tells a second sending of the same from another.
    """
    station = transmitter.station
    row = Round(station=station, slot=slot, kind=kind, modulation=modulation)
    body = round_body(row, readings)
    draft = Draft(
        Kind.ROUND,
        station,
        transmitter,
        observed_at,
        at,
        by=by,
        body=body,
        source=source,
        sent=sent,
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
        no, before = (last.no, last.digest) if last else (0, NOTHING_BEFORE)
        for chunk in batched(past, CHUNK):
            for one, key in zip(chunk, allotted_keys(len(chunk)), strict=True):
                entry = numbered(one.draft, no + 1, before)
                entry.pk = key
                one.row.entry = entry
                no, before = entry.no, entry.digest
            write_chunk(chunk)
            written += len(chunk)
            progress(written)
    return written


def write_chunk(chunk: Sequence[Past]) -> None:
    insert_models(Entry, [one.row.entry for one in chunk])
    for model in (Round, StateChange):
        insert_models(model, [one.row for one in chunk if isinstance(one.row, model)])
    insert_readings((one.row, one.readings) for one in chunk if one.readings)


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
