"""The maintenance planner's board: every socket with its tube, every spare, what to order when.

All dates here are by rated life.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from health.emission import EmissionBook, Standing
from health.rules.emission import Statement
from health.statistics.rated_life import days_to_rated_life
from logbook.counters import Hours
from logbook.hour_book import HourBook, week_hours
from logbook.models import TubePlace
from logbook.tube_log import moves_of, places_of
from logbook.tube_stays import Stay, stays
from station.models import Socket, Station, Tube, TubeType
from station.models.meter import Counts

WEEKS = 8


@dataclass(frozen=True)
class TubeHours:
    """What a tube has behind it: its stays summed up, and the hours before this log."""

    filament: Hours
    ht: Hours
    starts: int


@dataclass(frozen=True)
class SocketLine:
    """One socket; without a tube the rest is empty. Dates are None where none is reliable."""

    socket: Socket
    tube: Tube | None = None
    since: datetime | None = None
    hours: TubeHours | None = None
    hours_a_week: float = 0.0
    early: date | None = None
    late: date | None = None
    emission: Statement | None = None

    @property
    def order_by(self) -> date | None:
        if self.early is None or self.tube is None:
            return None
        return self.early - timedelta(days=self.tube.tube_type.lead_time_days)


@dataclass(frozen=True)
class SpareLine:
    """A tube on the shelf. ``wants`` names what is to be done first, most pressing first."""

    tube: Tube
    hours: TubeHours
    shelf_since: date
    shelf_days: int
    rotation_due: date
    wants: tuple[str, ...]

    @property
    def is_ready(self) -> bool:
        return not {"acceptance", "conditioning"} & set(self.wants)


@dataclass(frozen=True)
class TypeLine:
    """What one type needs: ``order_by`` is when the tubes on the shelf no longer reach."""

    tube_type: TubeType
    sockets: int
    due_in_lead_time: int
    ready_spares: int
    order_by: date | None


@dataclass(frozen=True)
class TubeBoard:
    today: date
    sockets: tuple[SocketLine, ...]
    spares: tuple[SpareLine, ...]
    away: tuple[Tube, ...]
    types: tuple[TypeLine, ...]


def build_tube_board(station: Station, now: datetime) -> TubeBoard:
    tubes = {
        one.pk: one for one in Tube.objects.filter(station=station).select_related("tube_type")
    }
    all_stays, places = stays(moves_of(station)), places_of(station)
    book = HourBook(station, all_stays, now)
    standing = {stay.socket: stay for stay in all_stays if stay.until is None}
    maker = LineMaker(book, all_stays, now, EmissionBook(station, book, book.sockets))
    sockets = [
        maker.socket_line(socket, standing.get(socket.pk), tubes) for socket in ordered(book)
    ]
    fitted = {stay.tube for stay in standing.values()}
    loose = [tube for tube in tubes.values() if tube.pk not in fitted]
    shelved = [tube for tube in loose if places.get(tube.pk, "shelf") == TubePlace.SHELF]
    spares = sorted((maker.spare_line(tube) for tube in shelved), key=lambda one: one.shelf_since)
    away = [tube for tube in loose if places.get(tube.pk) == TubePlace.REBUILDER]
    types = type_lines(TubeType.objects.filter(station=station), sockets, spares, now.date())
    return TubeBoard(now.date(), tuple(sockets), tuple(spares), tuple(away), tuple(types))


def ordered(book: HourBook) -> list[Socket]:
    return sorted(
        book.sockets.values(),
        key=lambda one: (one.stage.transmitter.sheet_order, one.stage_id, one.code),
    )


class LineMaker:
    """Makes the lines of one board from hours that are read once."""

    def __init__(
        self, book: HourBook, all_stays: Sequence[Stay], now: datetime, emission: EmissionBook
    ) -> None:
        self.book, self.all_stays, self.now, self.emission = book, all_stays, now, emission

    def stays_of(self, tube: Tube) -> list[Stay]:
        return [stay for stay in self.all_stays if stay.tube == tube.pk]

    def hours_of(self, tube: Tube) -> TubeHours:
        mine = self.stays_of(tube)
        spans = [(stay.socket, stay.since, stay.until or self.now) for stay in mine]
        filament = [self.book.hours(socket, Counts.FILAMENT, *span) for socket, *span in spans]
        ht = [self.book.hours(socket, Counts.HT, *span) for socket, *span in spans]
        starts = [self.book.starts(socket, *span) for socket, *span in spans]
        return TubeHours(sum(filament, Hours(tube.earlier_h)), sum(ht, Hours()), sum(starts))

    def socket_line(self, socket: Socket, stay: Stay | None, tubes: dict[int, Tube]) -> SocketLine:
        if stay is None:
            return SocketLine(socket)
        tube, today = tubes[stay.tube], self.now.date()
        hours = self.hours_of(tube)
        weeks = week_hours(self.book, socket.pk, Counts.FILAMENT, self.now, WEEKS)
        life = tube.tube_type
        left = days_to_rated_life(
            hours.filament.hours, life.rated_life_h, life.life_spread_h or 0.0, weeks
        )
        return SocketLine(
            socket,
            tube,
            stay.since,
            hours,
            sum(weeks) / WEEKS,
            early=today + timedelta(days=left.early) if left else None,
            late=today + timedelta(days=left.late) if left else None,
            emission=self.emission.statement(
                Standing(tube, self.stays_of(tube), hours.filament.hours)
            ),
        )

    def spare_line(self, tube: Tube) -> SpareLine:
        today = self.now.date()
        ended = [s.until.date() for s in self.all_stays if s.tube == tube.pk and s.until]
        shelf_since = max([tube.received_on, *ended])
        fresh_on = max(filter(None, [shelf_since, tube.run_up_on, tube.conditioned_on]))
        rotation_due = fresh_on + timedelta(days=tube.tube_type.rotation_days)
        return SpareLine(
            tube=tube,
            hours=self.hours_of(tube),
            shelf_since=shelf_since,
            shelf_days=(today - shelf_since).days,
            rotation_due=rotation_due,
            wants=tuple(wants(tube, fresh_on, rotation_due, today, is_new=not ended)),
        )


def wants(
    tube: Tube, fresh_on: date, rotation_due: date, today: date, *, is_new: bool
) -> Iterable[str]:
    """What a spare needs before it is put in, and what is due on the shelf."""
    if is_new and tube.accepted_on is None:
        yield "acceptance"
    if today > fresh_on + timedelta(days=tube.tube_type.conditioning_days):
        yield "conditioning"
    if today > rotation_due:
        yield "rotation"


def type_lines(
    types: Iterable[TubeType],
    sockets: Sequence[SocketLine],
    spares: Sequence[SpareLine],
    today: date,
) -> list[TypeLine]:
    return [type_line(one, sockets, spares, today) for one in types]


def type_line(
    tube_type: TubeType,
    sockets: Sequence[SocketLine],
    spares: Sequence[SpareLine],
    today: date,
) -> TypeLine:
    """The tube to order is the one that comes due after the ready spares are used up."""
    mine = [line for line in sockets if line.tube and line.tube.tube_type_id == tube_type.pk]
    due = sorted(line.early for line in mine if line.early)
    ready = sum(one.is_ready and one.tube.tube_type_id == tube_type.pk for one in spares)
    lead = timedelta(days=tube_type.lead_time_days)
    return TypeLine(
        tube_type=tube_type,
        sockets=len(mine),
        due_in_lead_time=sum(day <= today + lead for day in due),
        ready_spares=ready,
        order_by=due[ready] - lead if len(due) > ready else None,
    )
