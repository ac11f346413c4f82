"""Rounds a line each, or readings a line each, with the operating point at which they were read."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Prefetch, QuerySet
from django.utils.timezone import localtime

from logbook.cell_text import cell_text, exact
from logbook.frames import standing_points
from logbook.models import Reading, Round
from logbook.points import OperatingPoint, points_by_minute
from logbook.times import MINUTE, minute_of
from station.batches import batched
from station.models import Meter, Transmitter

ROUNDS_AT_ONCE = 500
OF_ROUND = ("slot [UTC]", "observed_at [UTC]", "transmitter", "kind", "modulation", "observer")
OF_POINT = ("state", "frequency_khz [kHz]", "antenna", "power_kw [kW]")
OF_READING = ("meter", "unit", "value")
OF_HISTORY = ("read_at [UTC]", "entry", "brought_by", "struck_by")

Line = Sequence[Any]
Span = tuple[datetime, datetime]


def round_lines(transmitters: Sequence[Transmitter], span: Span) -> Iterator[Line]:
    """A line for each round that counts; a column for each meter code of the transmitters."""
    meters = meters_by_code(transmitters)
    yield [*OF_ROUND, *OF_POINT, *(heading(code, own) for code, own in meters.items())]
    for transmitter in transmitters:
        for row, point in rounds_with_points(counting(transmitter, span), transmitter):
            cells = {reading.meter.code: cell_text(reading) for reading in row.exported}
            yield [
                *round_cells(row),
                *point_cells(point),
                *(cells.get(code, "") for code in meters),
            ]


def reading_lines(transmitters: Sequence[Transmitter], span: Span) -> Iterator[Line]:
    """A line for each reading that counts."""
    yield [*OF_ROUND, *OF_POINT, *OF_READING]
    for transmitter in transmitters:
        for row, point in rounds_with_points(counting(transmitter, span), transmitter):
            before = [*round_cells(row), *point_cells(point)]
            for reading in row.exported:
                yield [*before, *reading_cells(reading)]


def history_lines(transmitters: Sequence[Transmitter], span: Span) -> Iterator[Line]:
    """A line for each reading that was ever written: which correction brought it or struck it."""
    yield [*OF_ROUND, *OF_POINT, *OF_READING, *OF_HISTORY]
    for transmitter in transmitters:
        written = all_rounds(transmitter, span).prefetch_related(
            exported(Reading.objects.select_related("meter", "brought_by", "ended_by"))
        )
        for row, point in rounds_with_points(written, transmitter):
            before = [*round_cells(row), *point_cells(point)]
            for reading in row.exported:
                yield [*before, *reading_cells(reading), *history_cells(row, reading)]


def all_rounds(transmitter: Transmitter, span: Span) -> QuerySet[Round]:
    since, until = span
    rows = Round.objects.filter(
        entry__transmitter=transmitter,
        entry__observed_at__gte=since,
        entry__observed_at__lt=until,
    )
    ordered = rows.select_related("entry", "entry__transmitter")
    return ordered.order_by("entry__observed_at", "entry__no")


def counting(transmitter: Transmitter, span: Span) -> QuerySet[Round]:
    rows = all_rounds(transmitter, span).filter(duplicate_of=None, entry__ended_by=None)
    return rows.prefetch_related(exported(Reading.objects.current().select_related("meter")))


def exported(readings: QuerySet[Reading]) -> Prefetch:
    ordered = readings.order_by("meter__sheet_order", "meter__code", "pk")
    return Prefetch("readings", ordered, to_attr="exported")


def rounds_with_points(
    rows: QuerySet[Round], transmitter: Transmitter
) -> Iterator[tuple[Any, OperatingPoint]]:
    for together in batched(rows.iterator(chunk_size=ROUNDS_AT_ONCE), ROUNDS_AT_ONCE):
        first, last = together[0].entry.observed_at, together[-1].entry.observed_at
        standing = standing_points(transmitter, first, last + MINUTE)
        minutes = [minute_of(row.entry.observed_at) for row in together]
        points = points_by_minute(standing, minutes)
        for row, minute in zip(together, minutes, strict=True):
            yield row, points[minute]


def meters_by_code(transmitters: Sequence[Transmitter]) -> dict[str, list[Meter]]:
    """The meters in sheet order; transmitters that have one of the same code share its column."""
    found: dict[str, list[Meter]] = {}
    for transmitter in transmitters:
        for meter in transmitter.meters.order_by("sheet_order", "code"):
            found.setdefault(meter.code, []).append(meter)
    return found


def heading(code: str, meters: Sequence[Meter]) -> str:
    """The code with its unit, where all meters of it have the same."""
    units = {meter.unit for meter in meters}
    return f"{code} [{units.pop()}]" if len(units) == 1 else code


def instant_text(instant: datetime) -> str:
    return f"{localtime(instant):%Y-%m-%dT%H:%M:%SZ}"


def round_cells(row: Round) -> list[str]:
    entry = row.entry
    instants = [instant_text(row.slot), instant_text(entry.observed_at)]
    return [*instants, entry.transmitter.code, row.kind, row.modulation, entry.name_as_written]


def point_cells(point: OperatingPoint) -> list[str]:
    return [point.state, exact(point.frequency_khz), point.antenna, exact(point.power_kw)]


def reading_cells(reading: Reading) -> list[str]:
    return [reading.meter.code, reading.meter.unit, cell_text(reading)]


def history_cells(row: Round, reading: Reading) -> list[Any]:
    """A duplicate's readings are struck by its own entry: they count nowhere."""
    brought = reading.brought_by.no if reading.brought_by else row.entry.no
    struck = reading.ended_by.no if reading.ended_by else ""
    return [instant_text(reading.observed_at), row.entry.no, brought, struck]
