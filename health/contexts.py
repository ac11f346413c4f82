"""The seam from the log to what symptoms go with: trips, swapped tubes, tone tests."""

from collections.abc import Iterator
from datetime import timedelta

import numpy as np

from health.rules import contexts
from health.rules.sheets import DAY_MIN
from health.rules.symptom_table import Context
from health.sheets import is_wet
from logbook.frames import standing_points
from logbook.models import TubeMove
from logbook.models.check import CheckMade, Topic
from logbook.times import instant_of, minute_of
from station.models import Transmitter
from station.states import ON_AIR_STATES, State

TRIPPED = frozenset({State.TRIPPED, State.RECYCLING})
TRIPS_WITHIN, DONE_WITHIN = timedelta(days=7), timedelta(days=14)


def contexts_of(transmitter: Transmitter, day: int) -> set[str]:
    """What the log tells of the days before the end of ``day``, numbered from 1970 UTC."""
    until = instant_of((day + 1) * DAY_MIN)
    return {
        *of_trips(transmitter, until),
        *of_swaps(transmitter, until),
        *of_tone_tests(transmitter, until),
    }


def of_trips(transmitter: Transmitter, until) -> Iterator[Context]:
    standing = standing_points(transmitter, until - TRIPS_WITHIN, until)
    minutes = np.array([minute_of(at) for at in standing["observed_at"]], dtype=np.int64)
    begin, end = minute_of(until - TRIPS_WITHIN), minute_of(until)
    wet = is_wet(transmitter.station_id, minutes, begin, end)
    states = standing["state"].to_list()
    trips = [
        contexts.Trip(
            frequency_khz=float(standing["frequency_khz"].iloc[row]),
            is_wet=bool(wet[row]),
            was_on_air=row > 0 and states[row - 1] in ON_AIR_STATES,
        )
        for row, state in enumerate(states)
        if state in TRIPPED and minutes[row] >= begin
    ]
    on_air = standing[standing["state"].isin(ON_AIR_STATES)]
    yield from contexts.of_trips(trips, on_air["frequency_khz"].nunique())


def of_swaps(transmitter: Transmitter, until) -> Iterator[Context]:
    """Tubes that went from one socket of the transmitter to another."""
    swapped = TubeMove.objects.filter(
        entry__ended_by__isnull=True,
        entry__observed_at__gte=until - DONE_WITHIN,
        entry__observed_at__lt=until,
        from_socket__stage__transmitter=transmitter,
        to_socket__stage__transmitter=transmitter,
    )
    if swapped.exists():
        yield Context.TUBES_SWAPPED


def of_tone_tests(transmitter: Transmitter, until) -> Iterator[Context]:
    tests = CheckMade.objects.filter(
        entry__transmitter=transmitter,
        topic=Topic.TONE_TEST,
        entry__ended_by__isnull=True,
        entry__observed_at__gte=until - DONE_WITHIN,
        entry__observed_at__lt=until,
    )
    for facts in tests.order_by("-entry__observed_at").values_list("facts", flat=True)[:1]:
        shift, hum = facts.get("carrier_shift_percent"), facts.get("hum_change_db")
        yield from contexts.of_tone_test(
            np.nan if shift is None else shift, np.nan if hum is None else hum
        )
