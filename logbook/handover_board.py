"""What the next shift must know, put together from the log: nothing to be remembered."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from logbook import port
from logbook.check_board import open_lights
from logbook.due import rounds_due
from logbook.frames import standing_points_of_all
from logbook.interruptions import losses
from logbook.models import Entry, Kind, Reading, ReadingCode, WaveChange
from logbook.permits import open_permits
from logbook.point_words import point_words
from logbook.points import point_at
from logbook.queries import intervals_asked, slots_taken
from logbook.shelves import LEVELS, asides_now
from logbook.times import minute_of
from logbook.words import entry_words, permit_words
from station.models import Limit, Station, Transmitter
from station.schedules import STARTS_AHEAD, next_starts
from station.states import HT_UP

LOOK_BACK = timedelta(hours=24)
FLAGS_BACK = timedelta(days=92)
ASIDE_LEVELS = frozenset(LEVELS.values())
STARTS_SHOWN = 3


@dataclass(frozen=True)
class Part:
    """One transmitter: each line is a heading and what there is to say under it."""

    title: str
    lines: tuple[tuple[str, str], ...]


def assemble(station: Station, now: datetime) -> list[Part]:
    """A part a transmitter. 'Judging not available' is a line, not an empty list."""
    transmitters = list(Transmitter.objects.filter(station=station).select_related("station"))
    known = Known(station, transmitters, now)
    parts = [Part(f"{one.code} {one.name}", tuple(known.lines(one))) for one in transmitters]
    about_all = tuple(known.of_the_station())
    return [*parts, Part(_("Station"), about_all)] if about_all else parts


def running_now(station: Station, now: datetime) -> list[str]:
    """The transmitters that have HT on by the log."""
    transmitters = list(Transmitter.objects.filter(station=station))
    standing = standing_points_of_all(transmitters, now)
    states = {one.code: point_at(standing[one.pk], minute_of(now)).state for one in transmitters}
    return [code for code, state in states.items() if state in HT_UP]


def as_text(parts: Iterable[Part]) -> str:
    """The parts as plain lines, as the entry keeps them."""
    return "\n".join(
        f"{part.title}\n" + "\n".join(f"  {heading}: {words}" for heading, words in part.lines)
        for part in parts
    )


class Known:
    """What the log holds of all transmitters, read once."""

    def __init__(self, station: Station, transmitters: list[Transmitter], now: datetime) -> None:
        since = now - LOOK_BACK
        self.station, self.now = station, now
        self.standing = standing_points_of_all(transmitters, since)
        self.starts = next_starts(transmitters, station, now, now + STARTS_AHEAD)
        self.permits = list(open_permits(station))
        self.losses = [loss for loss in losses(station, since, now) if loss.end is None]
        self.asides = list(asides_now(station, now))
        self.asked = intervals_asked(transmitters)
        self.taken = slots_taken(transmitters, since, now + LOOK_BACK)
        self.to_re_read = list(
            Reading.objects.current()
            .filter(
                station=station,
                code=ReadingCode.TO_RE_READ,
                round__slot__gte=since,
                round__slot__lte=now,
            )
            .select_related("meter", "round__entry")
        )
        self.waves = list(waves_to_read(station, since))
        self.limits = list(
            Limit.objects.filter(station=station, valid_from__gt=since, valid_from__lte=now)
            .select_related("meter")
            .order_by("valid_from")
        )

    def lines(self, one: Transmitter) -> Iterator[tuple[str, str]]:
        yield _("State"), self.state(one)
        yield from ((_("Permit out"), str(permit)) for permit in self.permits_of(one))
        for loss in self.losses:
            if loss.entry.transmitter_id == one.pk:
                yield _("Open interruption"), entry_words(loss.entry)
        yield from self.flags(one)
        yield from self.set_aside(one)
        yield from self.rounds(one)
        yield from self.readings_to_follow(one)
        for limit in self.limits:
            if limit.meter.transmitter_id == one.pk:
                yield _("Limits changed"), f"{limit.meter.label}: {limit.reason}"
        yield _("Next starts"), self.next_starts(one)

    def state(self, one: Transmitter) -> str:
        point = point_words(point_at(self.standing[one.pk], minute_of(self.now)))
        return _(", ").join([point.state, point.wave, point.antenna, point.power])

    def of_the_station(self) -> Iterator[tuple[str, str]]:
        """Antennas with somebody on them, tower lights that failed."""
        for permit in self.permits:
            if permit.antenna_id:
                yield _("Permit out"), permit_words(permit)
        for fault in open_lights(self.station):
            yield _("Tower light failed"), entry_words(fault.entry)

    def permits_of(self, one: Transmitter) -> list[str]:
        return [
            _("%(number)s, %(holder)s, %(earths)s earth sticks")
            % {"number": row.number, "holder": row.holder, "earths": row.earths}
            for row in self.permits
            if row.entry.transmitter_id == one.pk
        ]

    def flags(self, one: Transmitter) -> Iterator[tuple[str, str]]:
        told = port.remarks(one, self.now - FLAGS_BACK, self.now)
        if told is None:
            if port.is_provided():
                yield _("Flags"), _("judging not available")
            return
        for flag in told:
            if flag.is_due and flag.level not in ASIDE_LEVELS:
                yield _("Flag: %s") % (flag.state or _("open")), flag.words

    def set_aside(self, one: Transmitter) -> Iterator[tuple[str, str]]:
        """The shelf and what is out of service, by the log alone."""
        for aside in self.asides:
            if aside.action.meter.transmitter_id != one.pk:
                continue
            if aside.is_shelf:
                yield _("Shelved"), _("; ").join([aside.action.words, aside.words])
            else:
                yield _("Out of service"), _(", ").join([aside.action.meter.label, aside.words])

    def rounds(self, one: Transmitter) -> Iterator[tuple[str, str]]:
        due = rounds_due(
            self.standing[one.pk],
            self.asked[one.pk],
            self.taken[one.pk],
            since=self.now - LOOK_BACK,
            now=self.now,
            late_after=timedelta(minutes=one.station.late_after_min),
        )
        if due.missed:
            slots = _(", ").join(f"{slot.at:%H:%M}" for slot in due.missed)
            yield _("Rounds missed, UTC"), slots
        waiting = [r for r in self.to_re_read if r.meter.transmitter_id == one.pk]
        if waiting:
            words = ngettext("%(n)s value", "%(n)s values", len(waiting)) % {"n": len(waiting)}
            numbers = sorted({reading.round.entry.no for reading in waiting})
            entries = _(", ").join(str(number) for number in numbers)
            yield (
                _("To be re-read"),
                _("%(words)s, entries %(entries)s")
                % {
                    "words": words,
                    "entries": entries,
                },
            )

    def readings_to_follow(self, one: Transmitter) -> Iterator[tuple[str, str]]:
        """Changes of wave after which nothing was read yet."""
        for wave in self.waves:
            if wave.entry.transmitter_id == one.pk:
                yield _("Readings to follow"), entry_words(wave.entry)

    def next_starts(self, one: Transmitter) -> str:
        found = self.starts[one.pk][:STARTS_SHOWN]
        if not found:
            return _("none scheduled")
        return _(", ").join(f"{b.begin:%H:%M} {b.line.frequency_khz:g} kHz" for b in found)


def waves_to_read(station: Station, since: datetime) -> QuerySet[WaveChange]:
    """Changes of wave after which their transmitter was not read."""
    rounds = Entry.objects.current().filter(
        transmitter=OuterRef("entry__transmitter"),
        kind=Kind.ROUND,
        observed_at__gte=OuterRef("entry__observed_at"),
    )
    return WaveChange.objects.filter(
        ~Exists(rounds),
        station=station,
        as_left=None,
        entry__ended_by=None,
        entry__observed_at__gte=since,
    ).select_related("entry")
