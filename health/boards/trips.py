"""The trips of a station: what the log says of each, first of all its first indicator."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from health.models import Episode
from health.rules.trips import AFTER_MIN, trip_before
from logbook.models import Entry, Interruption, Kind, LossCause, StateChange
from logbook.times import minute_of
from logbook.words import entry_words
from station.models import Station
from station.states import State


@dataclass(frozen=True)
class Trip:
    """``interruption`` is None where the state alone tells of it: nobody wrote what was seen."""

    minute: int
    entry: Entry
    interruption: Interruption | None = None

    @property
    def words(self) -> str:
        return entry_words(self.entry)


Trips = Mapping[int, list[Trip]]


def trips_of(station: Station, since: datetime) -> Trips:
    """The trips of each transmitter in order; a state and an interruption together are one."""
    current = {"station": station, "entry__ended_by": None}
    states = StateChange.objects.filter(state=State.TRIPPED, observed_at__gte=since, **current)
    lost = Interruption.objects.filter(power_kw=None, agreed_end=None, **current)
    lost = lost.filter(entry__kind=Kind.INTERRUPTION, entry__observed_at__gte=since)
    lost = lost.exclude(cause=LossCause.WORK).select_related("entry", "part_of")
    found = [
        *(Trip(minute_of(row.entry.observed_at), row.entry, row) for row in lost),
        *(Trip(minute_of(row.observed_at), row.entry) for row in states.select_related("entry")),
    ]
    by_transmitter: dict[int, list[Trip]] = defaultdict(list)
    for trip in found:
        by_transmitter[trip.entry.transmitter_id].append(trip)
    return {key: told_once(trips) for key, trips in by_transmitter.items()}


def told_once(trips: Iterable[Trip]) -> list[Trip]:
    """A trip that only the state tells of is left out beside an interruption of those minutes."""
    trips = list(trips)
    told = [trip.minute for trip in trips if trip.interruption]
    kept = [
        trip
        for trip in trips
        if trip.interruption or all(abs(trip.minute - minute) > AFTER_MIN for minute in told)
    ]
    return sorted(kept, key=lambda trip: trip.minute)


def trip_of(episode: Episode, trips: Trips) -> Trip | None:
    """The trip under which a flag hangs."""
    own = trips.get(episode.transmitter_id, [])
    place = trip_before(episode.since_minute, [trip.minute for trip in own])
    return None if place is None else own[place]
