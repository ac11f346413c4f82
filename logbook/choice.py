"""The board of two or more rounds of one slot side by side, and the choice between them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.http import Http404

from logbook.cells import SheetCell
from logbook.entry_page import read_meters
from logbook.models import Entry, Kind, Round
from logbook.queries import corrections_of, duplicates_of, with_readings
from logbook.services.corrections import choose_duplicate, void_entry
from station.limits import LimitBook
from station.models import Meter, Person


@dataclass(frozen=True)
class Compared:
    """One meter in every round, in the order of the rounds."""

    meter: Meter
    cells: tuple[SheetCell, ...]

    @property
    def is_different(self) -> bool:
        return len({cell.shown for cell in self.cells}) > 1


@dataclass(frozen=True)
class Choice:
    counting: Round
    duplicates: tuple[Round, ...]
    meters: tuple[Compared, ...]

    @property
    def rounds(self) -> list[Round]:
        return [self.counting, *self.duplicates]

    @property
    def is_open(self) -> bool:
        """Whether there is anything to choose: the round that counts stands, and a duplicate."""
        return self.counting.entry.ended_by_id is None and bool(self.duplicates)


def build_choice(entry: Entry) -> Choice:
    """The rounds of the slot of an entry; 404 when it is no round."""
    if entry.kind != Kind.ROUND:
        raise Http404
    counting = entry.round.duplicate_of or entry.round
    duplicates = tuple(duplicates_of(counting))
    return Choice(counting, duplicates, tuple(compare([counting, *duplicates])))


def compare(rounds: list[Round]) -> Iterable[Compared]:
    """The meters that were read in any of the rounds."""
    book = LimitBook(rounds[0].entry.transmitter)
    read = {reading.meter_id for row in with_readings(rounds) for reading in row.readings.all()}
    meters = [meter for meter in book.meters if meter.pk in read]
    corrections = corrections_of(row.entry for row in rounds)
    columns = [read_meters(row, meters, book, corrections) for row in rounds]
    for meter, *cells in zip(meters, *columns, strict=True):
        yield Compared(meter, tuple(one.cell for one in cells))


def decide(board: Choice, chosen: Round, reason: str, by: Person, at: datetime) -> None:
    """Let ``chosen`` count: a duplicate by a correction; else the duplicates are struck."""
    if chosen.duplicate_of_id:
        choose_duplicate(chosen, reason=reason, by=by, at=at)
        return
    for duplicate in board.duplicates:
        void_entry(duplicate.entry, reason=reason, by=by, at=at)
