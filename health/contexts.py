"""The seam from the log to what symptoms go with: trips, swapped tubes, tone tests."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from django.db.models import Q, QuerySet

from health.rules import contexts
from health.rules.sheets import DAY_MIN
from health.rules.symptom_table import Context
from health.sheets import is_wet
from logbook.frames import standing_points
from logbook.models import Entry, Kind
from logbook.models.check import Topic
from logbook.times import instant_of, minute_of
from station.models import Transmitter
from station.states import ON_AIR_STATES, State

TRIPPED = frozenset({State.TRIPPED, State.RECYCLING})
TRIPS_WITHIN, DONE_WITHIN = timedelta(days=7), timedelta(days=14)


def contexts_of(transmitter: Transmitter, day: int) -> set[Context]:
    """What the log tells of the days before the end of ``day``, numbered from 1970 UTC."""
    until = instant_of((day + 1) * DAY_MIN)
    told = list(told_before(transmitter, until))
    found: set[Context] = set()
    if any(kind == Kind.STATE and at >= until - TRIPS_WITHIN for kind, at, _facts in told):
        found.update(of_trips(transmitter, until))
    if any(kind == Kind.TUBE for kind, _at, _facts in told):
        found.add(Context.TUBES_SWAPPED)
    for facts in [facts for kind, _at, facts in told if kind == Kind.CHECK][-1:]:
        found.update(of_tone_test(facts))
    return found


def told_before(transmitter: Transmitter, until: datetime) -> QuerySet:
    """Kind, instant and facts, in order: trips, tone tests, and tubes that went from one socket of
    the transmitter to another."""
    sockets = ("tubemove__from_socket", "tubemove__to_socket")
    is_told = (
        Q(statechange__state__in=TRIPPED)
        | Q(checkmade__topic=Topic.TONE_TEST)
        | Q(**{f"{socket}__stage__transmitter": transmitter for socket in sockets})
    )
    return (
        Entry.objects.current()
        .filter(
            is_told,
            transmitter=transmitter,
            kind__in=(Kind.STATE, Kind.TUBE, Kind.CHECK),
            observed_at__gte=until - DONE_WITHIN,
            observed_at__lt=until,
        )
        .order_by("observed_at", "no")
        .values_list("kind", "observed_at", "checkmade__facts")
    )


def of_trips(transmitter: Transmitter, until: datetime) -> Iterator[Context]:
    standing = standing_points(transmitter, until - TRIPS_WITHIN, until)
    minutes = np.array([minute_of(at) for at in standing["observed_at"]], dtype=np.int64)
    begin, end = minute_of(until - TRIPS_WITHIN), minute_of(until)
    wet = is_wet(transmitter.station_id, minutes, begin, end)
    states = standing["state"].to_list()
    khz = standing["frequency_khz"].astype(float).to_numpy()
    trips = [
        contexts.Trip(
            frequency_khz=float(khz[row]),
            is_wet=bool(wet[row]),
            was_on_air=row > 0 and states[row - 1] in ON_AIR_STATES,
        )
        for row, state in enumerate(states)
        if state in TRIPPED and minutes[row] >= begin
    ]
    on_air = standing[standing["state"].isin(ON_AIR_STATES)]
    yield from contexts.of_trips(trips, on_air["frequency_khz"].nunique())


def of_tone_test(facts: Mapping[str, Any]) -> Iterator[Context]:
    shift, hum = facts.get("carrier_shift_percent"), facts.get("hum_change_db")
    yield from contexts.of_tone_test(
        np.nan if shift is None else shift, np.nan if hum is None else hum
    )
