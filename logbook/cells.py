"""One cell of a sheet: what stands, what was struck, and its mark against the limits."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from logbook.models import Reading, Round
from logbook.point_words import place_of
from logbook.points import points_by_minute
from logbook.reading_words import CODE_LEVELS, MARK_LEVELS, reading_words
from logbook.second_looks import Cell, limit_level
from logbook.times import instant_of
from station.limits import LimitBook
from station.models import Meter


@dataclass(frozen=True)
class Struck:
    """A value that no longer stands, and the number of the correction that ended it."""

    shown: str
    ended_by: int


@dataclass(frozen=True)
class SheetCell:
    """``shown`` is '' where nothing was read; ``level`` is the limits' word, '' inside them.

    ``mark`` is '?' or '='; ``mark_level`` and ``code_level`` name the statuses that say them.
    """

    shown: str = ""
    level: str = ""
    mark: str = ""
    mark_level: str = ""
    code: str = ""
    code_level: str = ""
    struck: tuple[Struck, ...] = ()


class CellMaker:
    """Makes the cells of many rounds of one transmitter: limits and points are looked up once."""

    def __init__(
        self,
        book: LimitBook,
        standing: pd.DataFrame,
        minutes: Iterable[int],
        correction_numbers: Mapping[int, int],
    ) -> None:
        self.book = book
        self.points = points_by_minute(standing, minutes)
        self.correction_numbers = correction_numbers

    def cells(self, row: Round, meters: Iterable[Meter]) -> list[SheetCell]:
        """A round's cells in the order of ``meters``; its readings are prefetched in order."""
        of_meter: dict[int, list[Reading]] = {}
        for reading in row.readings.all():
            of_meter.setdefault(reading.meter_id, []).append(reading)
        return [self.cell(row, meter, of_meter.get(meter.pk, [])) for meter in meters]

    def cell(self, row: Round, meter: Meter, readings: list[Reading]) -> SheetCell:
        standing = next((one for one in readings if stands_in(row, one)), None)
        struck = tuple(
            Struck(shown(one, meter), self.correction_numbers.get(one.ended_by_id or 0, 0))
            for one in readings
            if one is not standing
        )
        if standing is None:
            return SheetCell(struck=struck)
        return SheetCell(
            shown=shown(standing, meter),
            level=self.level(row, meter, standing),
            mark=standing.mark,
            mark_level=MARK_LEVELS.get(standing.mark, ""),
            code=standing.code,
            code_level=CODE_LEVELS.get(standing.code, ""),
            struck=struck,
        )

    def level(self, row: Round, meter: Meter, reading: Reading) -> str:
        place = place_of(self.points[reading.minute], row.modulation)
        band = self.book.band(meter, place, instant_of(reading.minute))
        return limit_level(Cell(meter, reading, band, None, place))


def stands_in(row: Round, reading: Reading) -> bool:
    """Whether a reading is what its round says: of a struck round or a duplicate, what it said."""
    return reading.ended_by_id in {None, row.entry.ended_by_id, row.entry_id}


def shown(reading: Reading, meter: Meter) -> str:
    """The number with its bound, the code's letter, or what is to be re-read as it was typed."""
    return f"{reading_words(reading, meter.decimals)} {reading.code}".strip()
