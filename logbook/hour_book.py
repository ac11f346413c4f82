"""The hours of every socket of a station, read once: filament, HT, starts, black heat."""

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np

from logbook.counter_readings import counter_readings
from logbook.counters import (
    Counter,
    Hours,
    Replacement,
    Running,
    Stretches,
    counter_with,
    stretches,
)
from logbook.frames import stated_states
from logbook.models import MeterChange
from logbook.times import hours_of
from logbook.tube_stays import Stay
from station.models import Instrument, Meter, Socket, Station
from station.models.meter import Counts
from station.states import FILAMENTS_UP, HT_UP, State

UP = {Counts.FILAMENT: FILAMENTS_UP, Counts.HT: HT_UP}


class HourBook:
    """Hours of the sockets from the first of the stays to ``now``, from counters where there are
    any.
    """

    def __init__(self, station: Station, all_stays: Sequence[Stay], now: datetime) -> None:
        since = min((stay.since for stay in all_stays), default=now)
        self.span = hours_of(since), hours_of(now)
        self.sockets = {
            one.pk: one
            for one in Socket.objects.filter(station=station).select_related("stage__transmitter")
        }
        self.meters = list(Meter.objects.filter(station=station).exclude(counts=""))
        transmitters = {one.stage.transmitter_id for one in self.sockets.values()}
        transmitters |= {meter.transmitter_id for meter in self.meters}
        self.states = stated_states(transmitters, since, now)
        running = {meter.pk: self.running_of(meter) for meter in self.meters}
        self.readings = counter_readings(running, (since, now), self.moments(all_stays))
        self._stretches: dict[tuple[int, str], Stretches] = {}

    def hours(self, socket_id: int, counts: str, since: datetime, until: datetime) -> Hours:
        """Hours that the socket's tube had between two instants."""
        return self.stretches(socket_id, counts).between(hours_of(since), hours_of(until))

    def hours_since(self, socket_id: int, counts: str, at: Sequence[float]) -> np.ndarray:
        """Hours of the socket from each of many instants (hours since 1970 UTC) to now."""
        found = self.stretches(socket_id, counts).until([*at, self.span[1]])
        return found[-1] - found[:-1]

    def starts(self, socket_id: int, since: datetime, until: datetime) -> int:
        """How often the filament was run up from cold or black heat."""
        began = self.running(socket_id, FILAMENTS_UP).since
        return int(((began >= hours_of(since)) & (began < hours_of(until))).sum())

    def black_heat_h(self, socket_id: int, since: datetime, until: datetime) -> float:
        running = self.running(socket_id, {State.BLACK_HEAT})
        return float(np.diff(running.hours([hours_of(since), hours_of(until)]))[0])

    def shown(self, socket_id: int, at: datetime) -> float | None:
        """What the socket's filament counter showed: its reading before, and the hours since."""
        meter = self.counter_of(socket_id, Counts.FILAMENT)
        if meter is None:
            return None
        read_at, value = self.readings[meter.pk]
        before = int(np.searchsorted(read_at, hours_of(at), side="right")) - 1
        if before < 0:
            return None
        gained = self.stretches(socket_id, Counts.FILAMENT).between(read_at[before], hours_of(at))
        return float(value[before] + gained.hours) % self.first_counter[meter.pk].turn

    def stretches(self, socket_id: int, counts: str) -> Stretches:
        key = (self.counter_key(socket_id, counts), counts)
        if key not in self._stretches:
            self._stretches[key] = self.made(socket_id, counts)
        return self._stretches[key]

    def made(self, socket_id: int, counts: str) -> Stretches:
        running = self.running(socket_id, UP[Counts(counts)])
        meter = self.counter_of(socket_id, counts)
        if meter is None:
            nothing = np.array([])
            return stretches(nothing, nothing, [], running, Counter(np.inf, 0.0), self.span)
        changes = [replacement(row) for row in self.changes[meter.pk]]
        first = self.first_counter[meter.pk]
        return stretches(*self.readings[meter.pk], changes, running, first, self.span)

    def counter_key(self, socket_id: int, counts: str) -> int:
        """Sockets that share a counter share its hours; one without any has its own, below zero."""
        meter = self.counter_of(socket_id, counts)
        return meter.pk if meter else -socket_id

    def counter_of(self, socket_id: int, counts: str) -> Meter | None:
        """The narrowest counter: the socket's own, its stage's, its transmitter's."""
        counters = (meter for meter in self.meters if meter.counts == counts)
        return narrowest(counters, self.sockets[socket_id])

    def moments(self, all_stays: Sequence[Stay]) -> Iterator[datetime]:
        """The instants around which hours hang on every single reading."""
        for stay in all_stays:
            yield from filter(None, [stay.since, stay.until])
        for row in itertools.chain.from_iterable(self.changes.values()):
            yield row.entry.observed_at

    def running_of(self, meter: Meter) -> Running:
        return self.running_in_states(meter.transmitter_id, UP[Counts(meter.counts)])

    def running(self, socket_id: int, states: Iterable[str]) -> Running:
        """When the transmitter of a socket was in one of these states."""
        return self.running_in_states(self.sockets[socket_id].stage.transmitter_id, states)

    def running_in_states(self, transmitter_id: int, states: Iterable[str]) -> Running:
        at, state = self.states[transmitter_id]
        return running_in(at, np.isin(state, list(states)), self.span[1])

    @cached_property
    def changes(self) -> dict[int, list[MeterChange]]:
        """The changes of each counter in order."""
        found: dict[int, list[MeterChange]] = defaultdict(list)
        rows = MeterChange.objects.filter(meter__in=self.meters, entry__ended_by__isnull=True)
        for row in rows.select_related("entry").order_by("entry__observed_at", "entry__no"):
            found[row.meter_id].append(row)
        return found

    @cached_property
    def first_counter(self) -> dict[int, Counter]:
        """What the first instrument of each counter is."""
        rows = Instrument.objects.filter(meter__in=self.meters).order_by("-valid_from")
        return {row.meter_id: counter_with(row.full_scale, row.step) for row in rows}


def narrowest(meters: Iterable[Meter], socket: Socket) -> Meter | None:
    """Of some meters the socket's own, else that of its stage, else of the whole transmitter."""
    fitting = [
        meter
        for meter in meters
        if meter.transmitter_id == socket.stage.transmitter_id
        and meter.socket_id in {None, socket.pk}
        and meter.stage_id in {None, socket.stage_id}
    ]
    return max(fitting, key=lambda one: (bool(one.socket_id), bool(one.stage_id)), default=None)


def replacement(row: MeterChange) -> Replacement:
    follows = counter_with(row.full_scale, row.step)
    return Replacement(hours_of(row.entry.observed_at), row.old_last, row.new_first, follows)


def running_in(at: np.ndarray, is_up: np.ndarray, now: float) -> Running:
    """The stretches of standing changes in which something is up; the last one goes on."""
    before = np.concatenate([[False], is_up[:-1]])
    since = at[is_up & ~before]
    until = at[~is_up & before]
    if len(until) < len(since):
        until = np.append(until, max(now, since[-1]))
    return Running(since, until)


def week_hours(
    book: HourBook, socket_id: int, counts: str, now: datetime, weeks: int
) -> Sequence[float]:
    """Hours of each of the last weeks, the newest last."""
    week = timedelta(weeks=1)
    ends = [now - week * number for number in range(weeks, -1, -1)]
    return [
        book.hours(socket_id, counts, since, until).hours
        for since, until in itertools.pairwise(ends)
    ]
