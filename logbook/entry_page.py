"""The board of one entry read whole: what it says, its place in the chain, what came of it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from logbook.cells import CellMaker, SheetCell, shown
from logbook.day_sheet import minutes_of
from logbook.frames import standing_points
from logbook.models import Correction, Entry, Kind, Reading, Round
from logbook.queries import (
    corrections_of,
    duplicates_of,
    earlier_entry,
    readings_in_correction,
    remarks_about,
    with_readings,
)
from logbook.times import instant_of, log_day_of
from logbook.words import correction_words, entry_words, short_digest
from station.limits import LimitBook
from station.models import Meter


@dataclass(frozen=True)
class ReadMeter:
    meter: Meter
    cell: SheetCell


@dataclass(frozen=True)
class ReadGroup:
    """The readings of one panel group."""

    name: str
    readings: tuple[ReadMeter, ...]


@dataclass(frozen=True)
class Exchange:
    """What a correction put in the place of what, on one meter; '' is no reading."""

    meter: Meter
    ended: str
    brought: str


@dataclass(frozen=True)
class EntryPage:
    entry: Entry
    words: str
    digest: str
    digest_before: str
    groups: tuple[ReadGroup, ...]
    exchanges: tuple[Exchange, ...]
    corrections: tuple[tuple[Correction, str], ...]
    remarks: tuple[Entry, ...]
    duplicates: tuple[Round, ...]
    anew: Entry | None

    @property
    def is_correctable(self) -> bool:
        """A round, a change of state or a remark that still stands."""
        return self.entry.kind != Kind.CORRECTION and self.entry.ended_by_id is None

    @property
    def day(self) -> date:
        """The log day on whose sheet the entry stands."""
        entry = self.entry
        instant = entry.round.slot if entry.kind == Kind.ROUND else entry.observed_at
        return log_day_of(entry.station, instant)


def build_entry_page(entry: Entry) -> EntryPage:
    corrections = corrections_of([entry])
    before = earlier_entry(entry)
    is_round = entry.kind == Kind.ROUND
    return EntryPage(
        entry=entry,
        words=entry_words(entry),
        digest=short_digest(entry.digest),
        digest_before=short_digest(before.digest) if before else "",
        groups=tuple(read_groups(entry.round, corrections)) if is_round else (),
        exchanges=tuple(exchanges(entry)) if entry.kind == Kind.CORRECTION else (),
        corrections=tuple((one, correction_words(one)) for one in corrections),
        remarks=tuple(remarks_about([entry])),
        duplicates=tuple(duplicates_of(entry.round)) if is_round else (),
        anew=entry.written_anew.only("no").first(),
    )


def read_groups(row: Round, corrections: Iterable[Correction]) -> list[ReadGroup]:
    """A round's readings with what was struck, by panel group; meters never read left out."""
    book = LimitBook(row.entry.transmitter)
    with_readings([row])
    read = {reading.meter_id for reading in row.readings.all()}
    meters = [meter for meter in book.meters if meter.pk in read]
    rows = read_meters(row, meters, book, corrections)
    return [
        ReadGroup(name, tuple(group))
        for name, group in groupby(rows, key=lambda one: one.meter.panel_group)
    ]


def read_meters(
    row: Round, meters: Iterable[Meter], book: LimitBook, corrections: Iterable[Correction]
) -> list[ReadMeter]:
    """What a round says of each of these meters."""
    meters, minutes = list(meters), minutes_of(row)
    standing = standing_points(
        row.entry.transmitter, instant_of(minutes[0]), instant_of(minutes[-1] + 1)
    )
    numbers = {correction.entry_id: correction.entry.no for correction in corrections}
    cells = CellMaker(book, standing, minutes, numbers).cells(row, meters)
    return [ReadMeter(meter, cell) for meter, cell in zip(meters, cells, strict=True)]


def exchanges(entry: Entry) -> list[Exchange]:
    """What a correction of values ended and brought, meter by meter."""
    of_meter: dict[Meter, list[Reading]] = {}
    for reading in readings_in_correction(entry.correction):
        of_meter.setdefault(reading.meter, []).append(reading)
    return [
        Exchange(
            meter,
            ended=" ".join(shown(r, meter) for r in rows if r.ended_by_id == entry.pk),
            brought=" ".join(shown(r, meter) for r in rows if r.brought_by_id == entry.pk),
        )
        for meter, rows in of_meter.items()
    ]
