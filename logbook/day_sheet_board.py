"""What the day sheet's page shows, as plain values."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from logbook.cells import SheetCell
from logbook.ledger import Head
from logbook.models import Correction, Entry, Round
from logbook.remarks import FlagRemark
from logbook.signatures import Signer
from logbook.slots import slot_text
from logbook.words import listed, short_digest
from station.models import Meter, Transmitter

COLUMNS_BESIDE = 4  # slot, observed, state, read by


@dataclass(frozen=True)
class Line:
    """One row of the sheet: a round, or a slot without one.

    ``level`` is 'late', 'missed', 'due', 'not-asked' or ''; ``aside`` is '' for what counts, else
    'struck' or 'duplicate'.
    """

    slot: datetime
    clock: str
    other_clock: str
    level: str
    state: str
    wave: str
    observed: str = ""
    by: str = ""
    kind: str = ""
    round: Round | None = None
    aside: str = ""
    cells: tuple[SheetCell, ...] = ()

    @property
    def slot_text(self) -> str:
        return slot_text(self.slot)


@dataclass(frozen=True)
class Heading:
    """A panel group over its meters."""

    name: str
    meters: tuple[Meter, ...]


@dataclass(frozen=True)
class Sheet:
    """As many of the meters as fit on one page, with every line of the day."""

    no: int
    headings: tuple[Heading, ...]
    lines: tuple[Line, ...]
    aside: tuple[Line, ...]

    @property
    def id(self) -> str:
        return f"sheet-{self.no}"

    @property
    def title(self) -> str:
        return listed(heading.name for heading in self.headings)

    @property
    def meters(self) -> list[Meter]:
        return [meter for heading in self.headings for meter in heading.meters]

    @property
    def columns(self) -> int:
        return len(self.meters) + COLUMNS_BESIDE


@dataclass(frozen=True)
class Happening:
    """A change of state or a remark; ``struck_by`` is the correction's number, 0 if it stands."""

    entry: Entry
    words: str
    about: int | None
    struck_by: int
    is_estimated: bool


@dataclass(frozen=True)
class DaySheet:
    """``flags`` is None when judging is not available; ``head`` is the log's newest entry."""

    transmitter: Transmitter
    day: date
    made_at: datetime
    clock_names: tuple[str, str]
    sheets: tuple[Sheet, ...]
    happenings: tuple[Happening, ...]
    corrections: tuple[tuple[Correction, str], ...]
    flags: list[FlagRemark] | None
    head: Head | None
    signers: tuple[Signer, ...]

    @property
    def count(self) -> int:
        return len(self.sheets) + 1

    @property
    def digest(self) -> str:
        return short_digest(self.head.digest) if self.head else ""

    @property
    def before(self) -> date:
        return self.day - timedelta(days=1)

    @property
    def after(self) -> date:
        return self.day + timedelta(days=1)
