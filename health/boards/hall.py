"""The board of the hall: how each transmitter stands now, and what its last round says."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from health.boards.flag_lines import FlagLine
from health.boards.flags import waiting_lines
from health.boards.last_round import QUANTITIES_SHOWN, Figure, figures
from health.boards.symptoms import Symptoms, newest_symptoms
from health.pending import pending_of_all
from logbook.due import Due, rounds_due
from logbook.frames import standing_points_of_all
from logbook.models import Permit, Reading, Round
from logbook.permits import open_permits
from logbook.point_words import PointWords, point_words
from logbook.points import OperatingPoint, point_at
from logbook.queries import intervals_asked, last_readings, last_rounds, slots_taken
from logbook.times import MINUTE, minute_of
from station.broadcasts import Broadcast
from station.models import Meter, Station, Transmitter
from station.schedules import STARTS_AHEAD, next_starts
from station.states import HT_UP

LOOK_BACK = timedelta(days=1)
FLAGS_SHOWN = 5


@dataclass(frozen=True)
class TransmitterNow:
    """One transmitter. ``is_before_change``: its last round was read under another state or wave;
    ``pending`` entries are not judged yet, so flags may be missing; ``is_known``: the log says
    in which state it is.
    """

    transmitter: Transmitter
    point: PointWords
    last_round: Round | None
    is_before_change: bool
    figures: tuple[Figure, ...]
    symptoms: Symptoms | None
    flags: tuple[FlagLine, ...]
    due: Due
    pending: int
    is_known: bool
    next_start: Broadcast | None
    minutes_to_start: int
    permits: tuple[Permit, ...]
    is_ht_up: bool

    @property
    def flags_shown(self) -> tuple[FlagLine, ...]:
        return self.flags[:FLAGS_SHOWN]

    @property
    def flags_beside(self) -> int:
        return len(self.flags) - len(self.flags_shown)


@dataclass(frozen=True)
class Hall:
    made_at: datetime
    transmitters: tuple[TransmitterNow, ...]


def build_hall(station: Station, now: datetime) -> Hall:
    """As many queries for three transmitters as for twelve."""
    transmitters = list(Transmitter.objects.filter(station=station).select_related("station"))
    standing = standing_points_of_all(transmitters, now - LOOK_BACK)
    points = {key: point_at(frame, minute_of(now)) for key, frame in standing.items()}
    rounds = last_rounds(transmitters)
    shown = figures_of_all(transmitters, rounds)
    dues = due_of_all(transmitters, standing, now)
    flags = flags_of_all(station, now)
    symptoms = newest_symptoms(transmitters)
    pending = pending_of_all(transmitters)
    permits = list(open_permits(station))
    starts = first_starts(station, transmitters, now)
    return Hall(
        made_at=now,
        transmitters=tuple(
            TransmitterNow(
                transmitter=one,
                point=point_words(points[one.pk]),
                is_known=bool(points[one.pk].state),
                last_round=rounds.get(one.pk),
                is_before_change=has_changed_since(standing[one.pk], rounds.get(one.pk), now),
                figures=shown[one.pk],
                flags=tuple(flags[one.pk]),
                symptoms=symptoms.get(one.pk)
                if any(flag.is_standing for flag in flags[one.pk])
                else None,
                due=dues[one.pk],
                pending=pending.get(one.pk, 0),
                next_start=starts[one.pk],
                minutes_to_start=minutes_to(starts[one.pk], now),
                permits=permits_about(one, points[one.pk], permits),
                is_ht_up=points[one.pk].state in HT_UP,
            )
            for one in transmitters
        ),
    )


def permits_about(
    one: Transmitter, point: OperatingPoint, permits: Sequence[Permit]
) -> tuple[Permit, ...]:
    """Those on the transmitter, and those on the antenna that it stands on."""
    return tuple(
        permit
        for permit in permits
        if permit.entry.transmitter_id == one.pk
        or (permit.antenna is not None and permit.antenna.code == point.antenna)
    )


def first_starts(
    station: Station, transmitters: Sequence[Transmitter], now: datetime
) -> dict[int, Broadcast | None]:
    """The next broadcast of each transmitter that begins within a day and a half."""
    starts = next_starts(transmitters, station, now, now + STARTS_AHEAD)
    return {key: found[0] if found else None for key, found in starts.items()}


def minutes_to(start: Broadcast | None, now: datetime) -> int:
    return 0 if start is None else int((start.begin - now) // MINUTE)


def has_changed_since(standing: pd.DataFrame, row: Round | None, now: datetime) -> bool:
    if row is None:
        return False
    changed = standing["observed_at"]
    return bool(((changed > row.entry.observed_at) & (changed <= now)).any())


def figures_of_all(
    transmitters: Sequence[Transmitter], rounds: Mapping[int, Round]
) -> dict[int, tuple[Figure, ...]]:
    """The figures of each transmitter's last round."""
    meters: dict[int, list[Meter]] = defaultdict(list)
    wanted = Meter.objects.filter(transmitter__in=transmitters, quantity__in=QUANTITIES_SHOWN)
    for meter in wanted.select_related("stage").order_by("sheet_order"):
        meters[meter.transmitter_id].append(meter)
    readings: dict[int, Reading] = {
        reading.meter_id: reading for reading in last_readings(rounds.values(), QUANTITIES_SHOWN)
    }
    return {one.pk: figures(meters[one.pk], readings) for one in transmitters}


def due_of_all(
    transmitters: Sequence[Transmitter], standing: Mapping[int, pd.DataFrame], now: datetime
) -> dict[int, Due]:
    since = now - LOOK_BACK
    asked = intervals_asked(transmitters)
    taken = slots_taken(transmitters, since, now + LOOK_BACK)
    return {
        one.pk: rounds_due(
            standing[one.pk],
            asked[one.pk],
            taken[one.pk],
            since=since,
            now=now,
            late_after=timedelta(minutes=one.station.late_after_min),
        )
        for one in transmitters
    }


def flags_of_all(station: Station, now: datetime) -> dict[int, list[FlagLine]]:
    """The flags that wait, of each transmitter."""
    lines: dict[int, list[FlagLine]] = defaultdict(list)
    for line in waiting_lines(station, now):
        lines[line.episode.transmitter_id].append(line)
    return lines
