"""Building the day sheet: every slot of a transmitter's log day with what was read in it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from functools import cached_property
from itertools import groupby

from logbook import port
from logbook.cells import CellMaker
from logbook.clocks import clock
from logbook.day_sheet_board import DaySheet, Happening, Heading, Line, Sheet
from logbook.due import Slot, slots_asked
from logbook.frames import standing_points
from logbook.ledger import head
from logbook.models import Correction, Entry, Kind, Reading, Round, RoundKind, SignatureScope
from logbook.point_words import state_word
from logbook.points import OperatingPoint, points_by_minute
from logbook.queries import (
    corrections_of,
    happenings_of_span,
    intervals_asked,
    remarks_about,
    rounds_of_span,
)
from logbook.sheets import split_meters
from logbook.signatures import Signer, signatures_of, signers
from logbook.times import instant_of, log_day_span, minute_of
from logbook.words import (
    correction_words,
    entry_words,
    listed,
    power_words,
    wave_words,
)
from station.limits import LimitBook
from station.models import Meter, Transmitter
from station.models.meter import Occasion

HOUR = timedelta(hours=1)


class Day:
    """What the log holds of one transmitter's log day, read once, and the lines made from it."""

    def __init__(self, transmitter: Transmitter, day: date, now: datetime) -> None:
        self.transmitter, self.day, self.now = transmitter, day, now
        self.station = transmitter.station
        self.since, self.until = log_day_span(self.station, day)
        self.rounds = rounds_of_span(transmitter, self.since, self.until)
        self.standing = standing_points(transmitter, self.since - HOUR, self.until)
        self.asked = intervals_asked([transmitter])[transmitter.pk]
        self.book = LimitBook(transmitter)

    @property
    def zones(self) -> tuple[tzinfo, tzinfo]:
        """The zone of the sheet's rows, and of the clock beside them."""
        if self.station.log_day == "utc":
            return UTC, self.station.zone
        return self.station.zone, UTC

    @cached_property
    def readings(self) -> list[Reading]:
        return [reading for row in self.rounds for reading in row.readings.all()]

    @cached_property
    def happenings(self) -> list[Entry]:
        """What happened in the day, and the remarks written later about its rounds."""
        here = happenings_of_span(self.transmitter, self.since, self.until)
        numbers = {entry.pk for entry in here}
        about = remarks_about([row.entry for row in self.rounds])
        return [*here, *(entry for entry in about if entry.pk not in numbers)]

    @cached_property
    def corrections(self) -> list[Correction]:
        return corrections_of([*(row.entry for row in self.rounds), *self.happenings])

    @cached_property
    def meters(self) -> list[Meter]:
        """Those read each round, and those that were read on this day."""
        read = {reading.meter_id for reading in self.readings}
        return [m for m in self.book.meters if m.occasion == Occasion.ROUND or m.pk in read]

    @cached_property
    def correction_numbers(self) -> dict[int, int]:
        return {correction.entry_id: correction.entry.no for correction in self.corrections}

    @cached_property
    def cell_maker(self) -> CellMaker:
        minutes = {minute for row in self.rounds for minute in minutes_of(row)}
        return CellMaker(self.book, self.standing, minutes, self.correction_numbers)

    def counting(self) -> list[Line]:
        """The rounds that count and the slots without one, in order of time."""
        lines = [self.round_line(row, "") for row in self.rounds if not set_aside(row)]
        taken = {line.slot for line in lines}
        return sorted([*lines, *self.empty_lines(taken)], key=lambda line: line.slot)

    def aside(self) -> list[Line]:
        return [self.round_line(row, set_aside(row)) for row in self.rounds if set_aside(row)]

    def signers(self) -> tuple[Signer, ...]:
        wrote = [
            *(row.entry for row in self.rounds),
            *self.happenings,
            *(correction.entry for correction in self.corrections),
        ]
        signed = signatures_of(self.station, SignatureScope.OWN, self.day, self.transmitter)
        return signers(wrote, signed)

    def empty_lines(self, taken: set[datetime]) -> list[Line]:
        """The hours and the slots asked for that have no round."""
        asked = {
            slot.at: slot for slot in slots_asked(self.standing, self.asked, self.since, self.until)
        }
        instants = sorted((set(self.hours()) | set(asked)) - taken)
        points = points_by_minute(self.standing, map(minute_of, instants))
        return [
            self.line(
                instant,
                level=self.empty_level(asked.get(instant), instant),
                state=state_word(points[minute_of(instant)].state),
                wave="",
            )
            for instant in instants
        ]

    def hours(self) -> Iterable[datetime]:
        first = -(-minute_of(self.since) // 60) * 60
        return map(instant_of, range(first, minute_of(self.until), 60))

    def empty_level(self, slot: Slot | None, instant: datetime) -> str:
        if slot is not None:
            return slot.level(self.now, timedelta(minutes=self.station.late_after_min))
        return "not-asked" if instant <= self.now else ""

    def round_line(self, row: Round, aside: str) -> Line:
        late_after = timedelta(minutes=self.station.late_after_min)
        observed = row.entry.observed_at
        points = [self.cell_maker.points[minute] for minute in minutes_of(row)]
        return self.line(
            row.slot,
            level="late" if observed - row.slot > late_after else "",
            state=listed(dict.fromkeys(state_word(point.state) for point in points)),
            wave=listed(dict.fromkeys(wave_power(point) for point in points)),
            observed=self.observed_words(row),
            by=row.entry.name_as_written,
            kind="" if row.kind == RoundKind.ROUTINE else str(row.get_kind_display()),
            round=row,
            aside=aside,
            cells=tuple(self.cell_maker.cells(row, self.meters)),
        )

    def observed_words(self, row: Round) -> str:
        """When a round was read; from the first panel group to the last where they differ."""
        minutes, zone = minutes_of(row), self.zones[0]
        first, last = (clock(instant_of(minute), zone) for minute in (minutes[0], minutes[-1]))
        return first if first == last else f"{first}\N{EN DASH}{last}"

    def line(self, slot: datetime, **facts: object) -> Line:
        zone, other = self.zones
        return Line(slot=slot, clock=clock(slot, zone), other_clock=clock(slot, other), **facts)

    def clock_names(self) -> tuple[str, str]:
        local = self.station.time_zone.rpartition("/")[2].replace("_", " ")
        return ("UTC", local) if self.station.log_day == "utc" else (local, "UTC")


def set_aside(row: Round) -> str:
    """Why a round counts nowhere, '' when it counts."""
    if row.entry.ended_by_id:
        return "struck"
    return "duplicate" if row.duplicate_of_id else ""


def minutes_of(row: Round) -> list[int]:
    """The minutes at which a round was read, of its prefetched readings."""
    read = {reading.minute for reading in row.readings.all()}
    return sorted(read) or [minute_of(row.entry.observed_at)]


def wave_power(point: OperatingPoint) -> str:
    words = (wave_words(point.frequency_khz), power_words(point.power_kw, ""))
    return listed(part for part in words if part)


def build_day_sheet(transmitter: Transmitter, day: date, now: datetime) -> DaySheet:
    """The whole sheet of a log day; as many queries for one round as for a day full of them."""
    known = Day(transmitter, day, now)
    return DaySheet(
        transmitter=transmitter,
        day=day,
        made_at=now,
        clock_names=known.clock_names(),
        sheets=tuple(build_sheets(known)),
        happenings=tuple(happening(entry, known.correction_numbers) for entry in known.happenings),
        corrections=tuple((one, correction_words(one)) for one in known.corrections),
        flags=port.remarks(transmitter, known.since, known.until),
        head=head(transmitter.station),
        signers=known.signers(),
    )


def build_sheets(known: Day) -> Iterable[Sheet]:
    counting, aside = known.counting(), known.aside()
    begin = 0
    for no, part in enumerate(split_meters(known.meters), start=1):
        columns = slice(begin, begin + len(part))
        begin += len(part)
        yield Sheet(
            no=no,
            headings=headings(part),
            lines=tuple(cut(line, columns) for line in counting),
            aside=tuple(cut(line, columns) for line in aside),
        )


def cut(line: Line, columns: slice) -> Line:
    return replace(line, cells=line.cells[columns])


def headings(meters: Sequence[Meter]) -> tuple[Heading, ...]:
    groups = groupby(meters, key=lambda meter: meter.panel_group)
    return tuple(Heading(name, tuple(group)) for name, group in groups)


def happening(entry: Entry, correction_numbers: Mapping[int, int]) -> Happening:
    about = entry.remark.about if entry.kind == Kind.REMARK else None
    return Happening(
        entry=entry,
        words=entry_words(entry),
        about=about.no if about else None,
        struck_by=correction_numbers.get(entry.ended_by_id or 0, 0),
        is_estimated=entry.kind == Kind.STATE and entry.statechange.is_estimated,
    )
