"""The round sheet on paper, for when there is no screen: every meter with today's limits."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from logbook.frames import standing_points
from logbook.point_words import PointWords, place_of, point_words
from logbook.points import OperatingPoint, point_at
from logbook.queries import intervals_asked
from logbook.reading_text import TypedReading
from logbook.round_sheet import BandTexts, band_texts
from logbook.second_looks import Cell
from logbook.sheets import split_meters
from logbook.slots import USUAL_INTERVAL_MIN
from logbook.times import MINUTE, minute_of
from station.limits import LimitBook
from station.models import Meter, Transmitter
from station.states import ON_AIR_STATES

COLUMNS = 8  # the hours of a shift
MOST_METERS = 19  # on A4 across, with room to write
LOOK_BACK = timedelta(days=14)


@dataclass(frozen=True)
class BlankRow:
    meter: Meter
    band: BandTexts


@dataclass(frozen=True)
class BlankGroup:
    title: str
    rows: tuple[BlankRow, ...]


@dataclass(frozen=True)
class BlankSheets:
    """``slots`` are the columns to fill in; each of ``sheets`` is a page.

    ``point`` is where the transmitter stands, or stood when it was last on the air: its limits.
    """

    transmitter: Transmitter
    point: PointWords
    slots: tuple[datetime, ...]
    sheets: tuple[tuple[BlankGroup, ...], ...]
    made_at: datetime


def build_blank_sheets(transmitter: Transmitter, first: datetime, now: datetime) -> BlankSheets:
    """Columns from ``first`` on, an interval of the transmitter's rounds apart."""
    book, point = LimitBook(transmitter), last_on_air(transmitter, now)
    rows = {meter: blank_row(book, meter, point, now) for meter in book.meters}
    asked = intervals_asked([transmitter])[transmitter.pk]
    interval = timedelta(minutes=asked.get(point.state, USUAL_INTERVAL_MIN))
    return BlankSheets(
        transmitter=transmitter,
        point=point_words(point),
        slots=tuple(first + number * interval for number in range(COLUMNS)),
        sheets=tuple(
            groups_of([rows[meter] for meter in part])
            for part in split_meters(book.meters, MOST_METERS)
        ),
        made_at=now,
    )


def last_on_air(transmitter: Transmitter, now: datetime) -> OperatingPoint:
    """The newest point on the air of the last days, else where the transmitter stands."""
    standing = standing_points(transmitter, now - LOOK_BACK, now + MINUTE)
    on_air = standing.loc[standing["state"].isin(ON_AIR_STATES), "observed_at"]
    return point_at(standing, minute_of(now if on_air.empty else on_air.iloc[-1]))


def blank_row(book: LimitBook, meter: Meter, point: OperatingPoint, at: datetime) -> BlankRow:
    place = place_of(point, book.transmitter.default_modulation)
    band, instrument = book.band(meter, place, at), book.instrument(meter, at)
    return BlankRow(meter, band_texts(Cell(meter, TypedReading(), band, instrument, place)))


def groups_of(rows: Sequence[BlankRow]) -> tuple[BlankGroup, ...]:
    by_group = groupby(rows, key=lambda row: row.meter.panel_group)
    return tuple(BlankGroup(title, tuple(of_one)) for title, of_one in by_group)
