"""The board of a round that was saved: what it holds and what deserves a second look."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from logbook import port
from logbook.counter_looks import counter_looks
from logbook.forms.round import scale_of, sheet_meters
from logbook.frames import standing_points
from logbook.models import Reading, Round
from logbook.models.round import Mark, ReadingCode
from logbook.point_words import PointWords, place_of, point_words
from logbook.points import points_by_minute
from logbook.reading_text import TypedReading, read_typed
from logbook.second_looks import Cell, SecondLook, cell_level, limit_level, looks_at_round
from logbook.services.rounds import RoundDraft
from logbook.slots import late_minutes, slot_text
from logbook.times import MINUTE, instant_of, minute_of
from station.limits import LimitBook
from station.models import Meter
from station.models.meter import Occasion


@dataclass(frozen=True)
class SavedCell:
    """One reading as it stands now."""

    meter: Meter
    words: str
    level: str
    is_confirmed: bool


@dataclass(frozen=True)
class MeterLooks:
    """What is asked about one meter; ``offer`` is a text that may be taken, or ''."""

    cell: SavedCell
    looks: tuple[SecondLook, ...]
    offer: str


@dataclass(frozen=True)
class SavedBoard:
    """All that the page shows beside the form of values read again."""

    row: Round
    point: PointWords
    slot_text: str
    cells: tuple[SavedCell, ...]
    about_state: tuple[SecondLook, ...]
    by_meter: tuple[MeterLooks, ...]
    blank_count: int
    meter_count: int
    late_minutes: int
    is_judging_missing: bool
    correction_count: int


def saved_board(row: Round) -> SavedBoard:
    """The board of a round; a duplicate's values are shown and nothing is asked about them."""
    book = LimitBook(row.entry.transmitter)
    readings = readings_of(row)
    cells, point = saved_cells(book, row, readings)
    slips = None if row.duplicate_of_id else port.second_look(draft_of(row, cells))
    looks = [] if row.duplicate_of_id else looks_at(row, cells) + (slips or [])
    asked = [meter for meter in sheet_meters(book) if meter.occasion == Occasion.ROUND]
    read = {cell.meter.pk for cell in cells}
    return SavedBoard(
        row=row,
        point=point,
        slot_text=slot_text(row.slot),
        cells=tuple(saved_cell(cell) for cell in cells),
        about_state=tuple(look for look in looks if look.meter is None),
        by_meter=looks_by_meter(cells, looks),
        blank_count=sum(meter.pk not in read for meter in asked),
        meter_count=len(asked),
        late_minutes=late_minutes(row.slot, row.entry.observed_at, row.station.late_after_min),
        is_judging_missing=port.is_provided() and slips is None and not row.duplicate_of_id,
        correction_count=row.entry.corrections.count(),
    )


def looks_at(row: Round, cells: Sequence[Cell]) -> list[SecondLook]:
    return looks_at_round(cells) + counter_looks(row, cells)


def readings_of(row: Round) -> list[Reading]:
    """What stands; of a round that counts nowhere, what it said."""
    wanted = row.readings.filter(station=row.station)
    if row.duplicate_of_id or row.entry.ended_by_id:
        wanted = wanted.filter(brought_by__isnull=True)
    else:
        wanted = wanted.current()
    return list(wanted)


def saved_cells(
    book: LimitBook, row: Round, readings: Sequence[Reading]
) -> tuple[list[Cell], PointWords]:
    """The cells in sheet order, and the operating point when the round was read."""
    of_round = minute_of(row.entry.observed_at)
    minutes = [of_round, *(reading.minute for reading in readings)]
    since, until = instant_of(min(minutes)), instant_of(max(minutes)) + MINUTE
    points = points_by_minute(standing_points(book.transmitter, since, until), minutes)
    by_meter = {reading.meter_id: reading for reading in readings}
    cells = []
    for meter in book.meters:
        if meter.pk not in by_meter:
            continue
        reading = by_meter[meter.pk]
        at, place = instant_of(reading.minute), place_of(points[reading.minute], row.modulation)
        band, instrument = book.band(meter, place, at), book.instrument(meter, at)
        cells.append(Cell(meter, typed_again(book, meter, reading), band, instrument, place))
    return cells, point_words(points[of_round])


def is_beyond_limits(row: Round) -> bool:
    """Whether a value of a round stands beyond a limit, as the limits are known now."""
    cells, _point = saved_cells(LimitBook(row.entry.transmitter), row, readings_of(row))
    return any(limit_level(cell) for cell in cells)


def typed_again(book: LimitBook, meter: Meter, reading: Reading) -> TypedReading:
    """The stored reading as it was typed, with the sentence for a text that is no number."""
    if reading.code == ReadingCode.TO_RE_READ:
        at = instant_of(reading.minute)
        problem = read_typed(reading.text, scale_of(book, meter, at)).problem
        return TypedReading(code=reading.code, text=reading.text, problem=problem)
    columns = (reading.value, reading.code, reading.bound, reading.mark, reading.text)
    return TypedReading(*columns)


def saved_cell(cell: Cell) -> SavedCell:
    is_confirmed = cell.reading.mark == Mark.CONFIRMED
    return SavedCell(cell.meter, cell.words, cell_level(cell), is_confirmed)


def looks_by_meter(cells: Sequence[Cell], looks: Sequence[SecondLook]) -> tuple[MeterLooks, ...]:
    """The questions, gathered by meter in sheet order: one field each."""
    gathered = []
    for cell in cells:
        own = tuple(look for look in looks if look.meter == cell.meter)
        if own:
            offer = next((look.offer for look in own if look.offer), "")
            gathered.append(MeterLooks(saved_cell(cell), own, offer))
    return tuple(gathered)


def draft_of(row: Round, cells: Sequence[Cell]) -> RoundDraft:
    """The round as the analysis is asked about it."""
    return RoundDraft(
        transmitter=row.entry.transmitter,
        slot=row.slot,
        observed_at=row.entry.observed_at,
        modulation=row.modulation,
        typed={cell.meter: cell.reading for cell in cells},
        kind=row.kind,
    )


def read_again(
    row: Round, texts: Mapping[Meter, str]
) -> tuple[dict[Meter, TypedReading], dict[Meter, str]]:
    """Cells for a correction, and sentences for texts that cannot stand in a number's place.

    The same value a second time stands: it is marked 'confirmed'.
    """
    book = LimitBook(row.entry.transmitter)
    stands = {reading.meter_id: reading for reading in readings_of(row)}
    cells, problems = {}, {}
    for meter, text in texts.items():
        now = read_typed(text, scale_of(book, meter, row.entry.observed_at))
        before = stands.get(meter.pk)
        if now.code == ReadingCode.TO_RE_READ:
            problems[meter] = now.problem
        elif before and now.value is not None and says_the_same(now, before):
            cells[meter] = replace(now, mark=Mark.CONFIRMED)
        elif not before or not says_the_same(now, before):
            cells[meter] = now
    return cells, problems


def says_the_same(now: TypedReading, before: Reading) -> bool:
    return (now.value, now.bound, now.code) == (before.value, before.bound, before.code)
