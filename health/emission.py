"""What shows the emission of tubes: the seam from the log and the drifts to ``rules.emission``.

Everything is read once for all tubes that stand in sockets, so that a board of many takes no more
queries than one of few.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from math import sqrt
from statistics import fmean

import numpy as np
from django.db.models import Avg, OuterRef, QuerySet, Subquery

from health.models import ChannelBaseline, ChannelDay, Drift
from health.rules.consistency import PAIR
from health.rules.emission import (
    Carrier,
    Statement,
    StepTest,
    Tones,
    judge_carrier,
    judge_steps,
    judge_tones,
    statement,
)
from health.rules.sheets import DAY_MIN
from logbook.check_board import checks_of_tubes
from logbook.checks import falls
from logbook.hour_book import HourBook
from logbook.models import CheckMade, Reading, StateChange
from logbook.models.check import Topic
from logbook.models.state import STATED
from logbook.times import hours_of, instant_of
from logbook.tube_card import hours_until
from logbook.tube_stays import Stay
from station.models import Meter, Station, Tube
from station.models.meter import Counts
from station.states import PowerSetBy

TONE_CURRENT = "tone_current"
CURRENTS = ("anode_current", "grid_current")
"""An idle current does not heed the emission: a modulator shows it on the tone alone."""
RECENT_DAYS = 14
"""What a current reads now is the mean of so many days: common practice, no source."""

Channel = tuple[int, str]


@dataclass(frozen=True)
class Standing:
    """A tube with its stays in order, the last of them in the socket where it stands, and its
    filament hours now."""

    tube: Tube
    stays: Sequence[Stay]
    hours: float

    @property
    def socket_id(self) -> int:
        return self.stays[-1].socket

    @property
    def since(self) -> datetime:
        return self.stays[-1].since


@dataclass(frozen=True)
class ToneReading:
    at: datetime
    current: float


class EmissionBook:
    """What the log and the drifts say of tubes in sockets; ``book`` holds their hours.

    ``sockets`` are all of each stage that is asked about: a pair hangs on the first of its meters.
    """

    def __init__(self, station: Station, book: HourBook, sockets: Iterable[int]) -> None:
        self.station, self.book = station, book
        wanted = Meter.objects.filter(
            station=station, socket__in=list(sockets), quantity__in=(TONE_CURRENT, *CURRENTS)
        )
        self.meters: dict[int, list[Meter]] = defaultdict(list)
        for meter in wanted.select_related("transmitter", "socket"):
            self.meters[meter.socket_id].append(meter)

    def statement(self, of: Standing, *, has_heater_step: bool = False) -> Statement:
        steps = self.steps_of(of)
        evidence = (
            judge_tones(self.tones_of(of), of.hours),
            judge_steps(steps, of.hours),
            judge_carrier(list(self.carriers_of(of))),
        )
        return statement(evidence, steps, has_heater_step=has_heater_step)

    def hours_at(self, of: Standing, at: Sequence[datetime]) -> np.ndarray:
        """The tube's filament hours at instants of this stay."""
        instants = [hours_of(one) for one in at]
        return of.hours - self.book.hours_since(of.socket_id, Counts.FILAMENT, instants)

    def own_meters(self, of: Standing, *quantities: str) -> list[Meter]:
        return [one for one in self.meters[of.socket_id] if one.quantity in quantities]

    def steps_of(self, of: Standing) -> list[StepTest]:
        """The step tests of the tube, wherever it stood: they are against its own hours."""
        return [
            step_test(one, self.hours_until(of, one.entry.observed_at))
            for one in self.steps[of.tube.serial]
        ]

    def hours_until(self, of: Standing, at: datetime) -> float:
        return hours_until(of.tube, of.stays, self.book, at).hours

    def tones_of(self, of: Standing) -> Tones | None:
        meters = self.own_meters(of, TONE_CURRENT)
        if not meters:
            return None
        read = [one for one in self.tones[meters[0].pk] if one.at >= of.since]
        at = [one.at for one in read]
        return Tones(at, self.hours_at(of, at), np.array([one.current for one in read]))

    def carriers_of(self, of: Standing) -> Iterator[Carrier]:
        for meter in self.own_meters(of, *CURRENTS):
            for drift in self.drifts[meter.socket.stage_id, meter.quantity]:
                is_own = drift.meter_id == meter.pk
                if drift.relation == PAIR:
                    yield from self.carrier(drift, 1.0 if is_own else -1.0, is_pair=True)
                elif is_own and (centre := self.centres.get(channel_of(drift))):
                    yield from self.carrier(drift, 100 / centre, is_pair=False)

    def carrier(self, drift: Drift, factor: float, *, is_pair: bool) -> Iterator[Carrier]:
        """``factor`` makes per cent of the channel's unit, falling where this tube falls."""
        recent = [
            offset
            for day, offset in self.recent[channel_of(drift)]
            if day >= max(drift.since or 0, drift.day + 1 - RECENT_DAYS)
        ]
        if recent:
            yield Carrier(
                at=instant_of(drift.day * DAY_MIN),
                points=drift.points,
                recent=fmean(recent) * factor,
                slope=drift.slope_per_1000h * factor,
                is_told=drift.is_told,
                is_pair=is_pair,
            )

    @cached_property
    def all_meters(self) -> list[Meter]:
        return [meter for of_socket in self.meters.values() for meter in of_socket]

    @cached_property
    def steps(self) -> dict[str, list[CheckMade]]:
        """By the tube's serial number."""
        found: dict[str, list[CheckMade]] = defaultdict(list)
        for one in checks_of_tubes(self.station).filter(topic=Topic.FILAMENT_STEP):
            found[one.facts.get("tube", "")].append(one)
        return found

    @cached_property
    def tones(self) -> dict[int, list[ToneReading]]:
        """By meter, at full power."""
        meters = {one.pk: one for one in self.all_meters if one.quantity == TONE_CURRENT}
        found: dict[int, list[ToneReading]] = defaultdict(list)
        for key, minute, value, power, set_by in tone_rows(meters):
            full = meters[key].transmitter.full_power_kw
            is_lower = set_by == PowerSetBy.TAP and power
            current = value * sqrt(full / power) if is_lower else value
            found[key].append(ToneReading(instant_of(minute), current))
        return found

    @cached_property
    def drifts(self) -> dict[tuple[int, str], list[Drift]]:
        """By stage and quantity of the meter on which the channel hangs: its own, or a pair's."""
        meters = {one.pk: one for one in self.all_meters if one.quantity in CURRENTS}
        rows = Drift.objects.filter(meter__in=meters, points__gt=0, relation__in=("", PAIR))
        found: dict[tuple[int, str], list[Drift]] = defaultdict(list)
        for drift in rows:
            meter = meters[drift.meter_id]
            found[meter.socket.stage_id, meter.quantity].append(drift)
        return found

    @cached_property
    def all_drifts(self) -> list[Drift]:
        return [drift for of_stage in self.drifts.values() for drift in of_stage]

    @cached_property
    def centres(self) -> dict[Channel, float]:
        """The mean of a channel's baselines, over the waves and powers that it has them of."""
        rows = rows_of(ChannelBaseline.objects.all(), self.all_drifts)
        means = rows.values("transmitter", "channel").annotate(mean=Avg("centre")).order_by()
        return {(one["transmitter"], one["channel"]): one["mean"] for one in means}

    @cached_property
    def recent(self) -> dict[Channel, list[tuple[int, float]]]:
        """Day and offset of the last days, by channel."""
        found: dict[Channel, list[tuple[int, float]]] = defaultdict(list)
        first = min((one.day for one in self.all_drifts), default=0) + 1 - RECENT_DAYS
        rows = rows_of(ChannelDay.objects.filter(day__gte=first), self.all_drifts)
        read = rows.filter(offset__isnull=False).order_by("day")
        for transmitter, channel, day, offset in read.values_list(
            "transmitter", "channel", "day", "offset"
        ):
            found[transmitter, channel].append((day, offset))
        return found


def channel_of(drift: Drift) -> Channel:
    return drift.transmitter_id, drift.channel


def rows_of(rows: QuerySet, drifts: Sequence[Drift]) -> QuerySet:
    """The rows of the channels of some drifts, and perhaps of namesakes elsewhere."""
    return rows.filter(
        transmitter__in={one.transmitter_id for one in drifts},
        channel__in={one.channel for one in drifts},
    )


def tone_rows(meters: Iterable[int]) -> QuerySet:
    """Meter, minute, value, and the power that stood then with how it was set; in order."""
    stood = StateChange.objects.filter(
        transmitter=OuterRef("meter__transmitter"),
        observed_at__lte=OuterRef("round__entry__observed_at"),
        entry__ended_by__isnull=True,
    ).order_by("-observed_at", "-entry__no")
    power, set_by = (
        Subquery(stood.filter(STATED[column]).values(column)[:1])
        for column in ("power_kw", "set_by")
    )
    read = Reading.objects.current().filter(
        meter__in=list(meters), value__isnull=False, bound="", round__duplicate_of__isnull=True
    )
    rows = read.annotate(power_kw=power, set_by=set_by).order_by("minute", "pk")
    return rows.values_list("meter_id", "minute", "value", "power_kw", "set_by")


def step_test(made: CheckMade, hours: float) -> StepTest:
    facts, fell = made.facts, falls(made.facts)
    volts = facts["volts_v"]
    return StepTest(
        at=made.entry.observed_at,
        hours=hours,
        lowered=round(100 * (volts - facts["stepped_v"]) / volts, 1) if volts > 0 else 0.0,
        anode=fell.get("anode"),
        grid=fell.get("grid"),
        power=fell.get("power"),
    )
