"""A transmitter as it stood at one instant: its point, what was read last, its flags and tubes."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from health.models import Episode
from health.words import flag_words
from logbook.frames import standing_points
from logbook.models import Reading
from logbook.point_words import PointWords, place_of, point_words
from logbook.points import points_by_minute
from logbook.queries import newest_readings
from logbook.reading_words import number_text
from logbook.saved_round import typed_again
from logbook.second_looks import Cell, cell_level
from logbook.times import MINUTE, instant_of, minute_of
from logbook.tube_log import moves_of
from logbook.tube_stays import Stay, stays
from station.limits import LimitBook
from station.models import Meter, Socket, Transmitter, Tube


@dataclass(frozen=True)
class RecordLine:
    """The last reading of one meter before the instant; the rest is empty where there is none."""

    meter: Meter
    words: str = ""
    level: str = ""
    low: str = ""
    high: str = ""
    read_at: datetime | None = None
    age: timedelta | None = None
    entry_no: int | None = None

    @property
    def age_words(self) -> str:
        """Hours and minutes."""
        if self.age is None:
            return ""
        minutes = int(self.age / MINUTE)
        return f"{minutes // 60}:{minutes % 60:02d}"


@dataclass(frozen=True)
class Record:
    transmitter: Transmitter
    at: datetime
    point: PointWords
    groups: tuple[tuple[str, tuple[RecordLine, ...]], ...]
    flags: tuple[tuple[Episode, str], ...]
    tubes: tuple[tuple[Socket, Tube | None], ...]


def build_record(transmitter: Transmitter, at: datetime) -> Record:
    book = LimitBook(transmitter)
    minute = minute_of(at) + 1
    found = newest_readings([meter.pk for meter in book.meters], minute)
    minutes = [minute_of(at), *(reading.minute for reading in found.values())]
    since, until = instant_of(min(minutes)), instant_of(max(minutes)) + MINUTE
    points = points_by_minute(standing_points(transmitter, since, until), minutes)
    lines = [record_line(book, meter, found.get(meter.pk), points, at) for meter in book.meters]
    return Record(
        transmitter=transmitter,
        at=at,
        point=point_words(points[minute_of(at)]),
        groups=tuple(grouped(lines)),
        flags=tuple(flags_at(transmitter, minute_of(at))),
        tubes=tuple(tubes_at(transmitter, at)),
    )


def record_line(
    book: LimitBook, meter: Meter, reading: Reading | None, points: dict, at: datetime
) -> RecordLine:
    """Held against the limits of the point and the hour at which it was read."""
    if reading is None:
        return RecordLine(meter)
    read_at = instant_of(reading.minute)
    place = place_of(points[reading.minute], reading.round.modulation)
    band, instrument = book.band(meter, place, read_at), book.instrument(meter, read_at)
    cell = Cell(meter, typed_again(book, meter, reading), band, instrument, place)
    return RecordLine(
        meter=meter,
        words=cell.words,
        level=cell_level(cell),
        low=limit_words(meter, band.low_alarm, band.low_warning),
        high=limit_words(meter, band.high_warning, band.high_alarm),
        read_at=read_at,
        age=max(at - read_at, timedelta()),
        entry_no=reading.round.entry.no,
    )


def limit_words(meter: Meter, *limits: float | None) -> str:
    """The limits in their order; a dash for one that is not set, '' where none is."""
    if all(limit is None for limit in limits):
        return ""
    words = [
        number_text(round(one, 6), meter.decimals) if one is not None else "–" for one in limits
    ]
    return ", ".join(words)


def grouped(lines: list[RecordLine]) -> Iterator[tuple[str, tuple[RecordLine, ...]]]:
    groups: dict[str, list[RecordLine]] = {}
    for line in lines:
        groups.setdefault(line.meter.panel_group, []).append(line)
    yield from ((name, tuple(of_one)) for name, of_one in groups.items())


def flags_at(transmitter: Transmitter, minute: int) -> Iterator[tuple[Episode, str]]:
    episodes = Episode.objects.filter(transmitter=transmitter).touching(minute, minute + 1)
    for episode in episodes.select_related("meter__transmitter", "transmitter"):
        yield episode, flag_words(episode)


def tubes_at(transmitter: Transmitter, at: datetime) -> Iterator[tuple[Socket, Tube | None]]:
    """Every socket with the tube that stood in it."""
    standing = {stay.socket: stay.tube for stay in stays_at(transmitter, at)}
    tubes = {
        tube.pk: tube
        for tube in Tube.objects.filter(pk__in=standing.values()).select_related("tube_type")
    }
    sockets = Socket.objects.filter(stage__transmitter=transmitter)
    for socket in sockets.select_related("stage__transmitter").order_by("stage", "code"):
        yield socket, tubes.get(standing.get(socket.pk, 0))


def stays_at(transmitter: Transmitter, at: datetime) -> list[Stay]:
    return [
        stay
        for stay in stays(moves_of(transmitter.station))
        if stay.since <= at and (stay.until is None or at < stay.until)
    ]
