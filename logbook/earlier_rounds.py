"""The last rounds before a slot, as columns of values beside the cells."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

import pandas as pd
from django.db.models import QuerySet

from logbook.models import Entry, Kind, Reading, RoundKind
from logbook.point_words import place_of
from logbook.points import points_by_minute
from logbook.reading_text import TypedReading
from logbook.second_looks import Cell, cell_level
from logbook.times import instant_of
from station.limits import LimitBook, Place
from station.models import Meter, Transmitter
from station.prepared import Prepared

ROUNDS_SHOWN = 3
# A round is read within half a day of its slot, so later entries need not be searched.
SEARCH_AHEAD = timedelta(days=1)


class EarlierReading(NamedTuple):
    round_id: int
    slot: datetime
    kind: str
    modulation: str
    meter_id: int
    minute: int
    value: float | None
    code: str
    bound: str
    mark: str
    text: str


COLUMNS = (
    "round_id",
    "round__slot",
    "round__kind",
    "round__modulation",
    *EarlierReading._fields[4:],
)

# What need not be said beside an earlier value.
QUIET_LEVELS = {"normal", "no-reference", "bottom-of-scale"}


@dataclass(frozen=True)
class EarlierValue:
    """A value as it is shown; ``level`` is '' where nothing need be said about it."""

    words: str
    level: str


@dataclass(frozen=True)
class EarlierRound:
    """One column: what heads it, and its values by meter."""

    slot: datetime
    kind: str
    values: dict[int, EarlierValue]


def earlier_readings(transmitter: Transmitter, slot: datetime) -> list[EarlierReading]:
    """The current readings of the last rounds up to the slot, in one query."""
    rows = LAST_ROUNDS.rows(transmitter.pk, transmitter.station_id, slot, slot + SEARCH_AHEAD)
    return [EarlierReading(*row) for row in rows]


def last_rounds(
    transmitter_id: int, station_id: int, slot: datetime, until: datetime
) -> QuerySet[Reading]:
    rounds = (
        Entry.objects.current()
        .filter(transmitter=transmitter_id, kind=Kind.ROUND, observed_at__lt=until)
        .filter(round__duplicate_of__isnull=True, round__slot__lte=slot)
        .order_by("-observed_at", "-no")
        .values("pk")[:ROUNDS_SHOWN]
    )
    return (
        Reading.objects.current()
        .filter(station=station_id, round_id__in=rounds)
        .order_by("round__slot", "round_id")
        .values_list(*COLUMNS)
    )


LAST_ROUNDS = Prepared(last_rounds, int, int, datetime, datetime)


def earlier_rounds(
    book: LimitBook, readings: Sequence[EarlierReading], standing: pd.DataFrame
) -> tuple[EarlierRound, ...]:
    """The columns, oldest first; each value is judged where the transmitter stood then."""
    meters = {meter.pk: meter for meter in book.meters}
    points = points_by_minute(standing, [one.minute for one in readings])
    columns: dict[int, EarlierRound] = {}
    for one in readings:
        column = columns.setdefault(one.round_id, EarlierRound(one.slot, kind_word(one.kind), {}))
        place = place_of(points[one.minute], one.modulation)
        column.values[one.meter_id] = earlier_value(book, meters[one.meter_id], one, place)
    return tuple(columns.values())


def kind_word(kind: str) -> str:
    """The kind of a round where it is not the routine one."""
    return "" if kind == RoundKind.ROUTINE else str(RoundKind(kind).label)


def earlier_value(book: LimitBook, meter: Meter, one: EarlierReading, place: Place) -> EarlierValue:
    at = instant_of(one.minute)
    reading = TypedReading(one.value, one.code, one.bound, one.mark, one.text)
    band, instrument = book.band(meter, place, at), book.instrument(meter, at)
    cell = Cell(meter, reading, band, instrument, place)
    level = cell_level(cell)
    return EarlierValue(cell.words, "" if level in QUIET_LEVELS else level)
