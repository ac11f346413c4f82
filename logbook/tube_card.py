"""The life card of one tube: what it is, every stay with its hours, what was written about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from logbook.check_board import checks_of_tube
from logbook.checks import MEASURED_AT, SIGNS, chosen, falls
from logbook.counters import Hours
from logbook.hour_book import HourBook
from logbook.models import CheckMade, Entry, Kind, RemovalReason
from logbook.models.check import Topic
from logbook.tube_log import moves_of, place_words, places_of
from logbook.tube_stays import Stay, stays
from logbook.words import tube_move_words
from station.models import Socket, Tube
from station.models.meter import Counts


@dataclass(frozen=True)
class StayLine:
    """One stay; ``until`` is None while it lasts. ``reading_in`` and ``reading_out`` are what the
    socket's counter showed, None where it has none or the stay lasts.
    """

    socket: Socket
    stay: Stay
    filament: Hours
    ht: Hours
    starts: int
    black_heat_h: float
    reading_in: float | None
    reading_out: float | None
    reason: str


@dataclass(frozen=True)
class StepLine:
    """One filament step test or setting: the tube's filament hours then, and by what its readings
    fell."""

    check: CheckMade
    filament: Hours
    falls: dict[str, float]

    @property
    def measured(self) -> str:
        return chosen(MEASURED_AT, self.check.facts["measured"])

    @property
    def sign(self) -> str:
        return chosen(SIGNS, self.check.facts["sign"])


@dataclass(frozen=True)
class TubeCard:
    tube: Tube
    place: str
    stays: tuple[StayLine, ...]
    moves: tuple[tuple[Entry, str], ...]
    steps: tuple[StepLine, ...]
    settings: tuple[StepLine, ...]

    @property
    def filament(self) -> Hours:
        """Sum over the stays, and what the log does not hold."""
        return sum((line.filament for line in self.stays), Hours(self.tube.earlier_h))

    @property
    def ht(self) -> Hours:
        return sum((line.ht for line in self.stays), Hours())

    @property
    def starts(self) -> int:
        return sum(line.starts for line in self.stays)

    @property
    def black_heat_h(self) -> float:
        return sum(line.black_heat_h for line in self.stays)


def build_tube_card(tube: Tube, now: datetime) -> TubeCard:
    mine = stays_of(tube)
    return card_of(tube, mine, HourBook(tube.station, mine, now), now)


def stays_of(tube: Tube) -> list[Stay]:
    return [stay for stay in stays(moves_of(tube.station)) if stay.tube == tube.pk]


def card_of(tube: Tube, mine: Sequence[Stay], book: HourBook, now: datetime) -> TubeCard:
    """From the tube's stays and a book of their hours that is read already."""
    entries = moves_about(tube)
    reasons = {entry.no: entry.tubemove.reason for entry in entries}
    lines = [stay_line(stay, book, now, reasons) for stay in mine]
    standing = next((line.socket for line in lines if line.stay.until is None), None)
    filament = [
        StepLine(one, hours_until(tube, mine, book, one.entry.observed_at), falls(one.facts))
        for one in checks_of_tube(tube.station, tube.serial)
    ]
    return TubeCard(
        tube=tube,
        place=str(standing or place_words(places_of(tube.station).get(tube.pk, ""))),
        stays=tuple(lines),
        moves=tuple((entry, tube_move_words(entry.tubemove)) for entry in entries),
        steps=tuple(line for line in filament if line.check.topic == Topic.FILAMENT_STEP),
        settings=tuple(line for line in filament if line.check.topic == Topic.FILAMENT_SETTING),
    )


def hours_until(tube: Tube, mine: Sequence[Stay], book: HourBook, at: datetime) -> Hours:
    """The filament hours of a tube at an instant."""
    begun = [stay for stay in mine if stay.since < at]
    spans = [(stay.socket, stay.since, min(stay.until or at, at)) for stay in begun]
    hours = (book.hours(socket, Counts.FILAMENT, since, until) for socket, since, until in spans)
    return sum(hours, Hours(tube.earlier_h))


def stay_line(stay: Stay, book: HourBook, now: datetime, reasons: dict[int, str]) -> StayLine:
    span = stay.since, stay.until or now
    reason = reasons.get(stay.out_no or 0, "")
    return StayLine(
        socket=book.sockets[stay.socket],
        stay=stay,
        filament=book.hours(stay.socket, Counts.FILAMENT, *span),
        ht=book.hours(stay.socket, Counts.HT, *span),
        starts=book.starts(stay.socket, *span),
        black_heat_h=book.black_heat_h(stay.socket, *span),
        reading_in=book.shown(stay.socket, stay.since),
        reading_out=book.shown(stay.socket, stay.until) if stay.until else None,
        reason=str(RemovalReason(reason).label) if reason else "",
    )


def moves_about(tube: Tube) -> list[Entry]:
    """Every move of a tube in the order of its time, struck ones too."""
    return list(
        Entry.objects.filter(kind=Kind.TUBE, station=tube.station, tubemove__tube=tube)
        .select_related(
            "tubemove__tube__tube_type",
            "tubemove__from_socket__stage__transmitter",
            "tubemove__to_socket__stage__transmitter",
            "ended_by",
        )
        .order_by("observed_at", "no")
    )
