"""Channels: the series of which each has a level of its own. Pure.

A meter that the programme moves is one channel on programme and another on carrier; one that hangs
on the aerial is one in dry weather and another in wet. What several meters say together (the
balance of a pair, a sum, an efficiency) is a channel as well: see ``consistency``.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from math import nan
from typing import TypeVar

import numpy as np
import numpy.typing as npt

Values = TypeVar("Values", float, npt.NDArray[np.float64])


class Heeds(StrEnum):
    """As far as what part of the operating point a channel has a level of its own."""

    NOTHING = "nothing"
    POWER = "power"
    WAVE = "wave"
    AERIAL = "aerial"


class Programme(StrEnum):
    ANY, ON, CARRIER = "", "on", "carrier"


class Weather(StrEnum):
    ANY, DRY, WET = "", "dry", "wet"


@dataclass(frozen=True)
class MeterFacts:
    """What the rules must know of a meter and of the instrument behind it.

    ``step``, ``upper_step`` (of the range used on programme, where there are two), ``error``
    (class by full scale) and ``usual`` (its normal value at full power, else half the scale) are
    in the meter's unit; ``unit_w`` is that unit in watts, for a power; ``line_ohm`` the impedance
    that a feeder current flows into, NaN where it is not known. ``moves`` is how the
    programme moves it: 'none', 'fast' or 'slow'; ``live`` in which states it means anything.
    """

    meter_id: int
    code: str
    quantity: str
    live: str = "rf"
    tap_exponent: float | None = 0
    moves: str = "none"
    occasion: str = "round"
    stage: str = ""
    socket: str = ""
    includes: str = ""
    step: float = 1.0
    upper_step: float = 1.0
    error: float = 0.0
    usual: float = 1.0
    unit_w: float = 1.0
    line_ohm: float = nan

    def in_unit_of(self, value: Values, other: "MeterFacts") -> Values:
        """A value of another power meter's in this one's unit."""
        return value * (other.unit_w / self.unit_w)


@dataclass(frozen=True)
class Channel:
    """One series. ``key`` is its name within the transmitter; ``meter_ids`` are what it is
    computed from, the first of them the one that a flag hangs on. ``tap_exponent``: the power of
    sqrt(P) that it goes with where the tap sets the power, None where no law is known.
    ``is_judged``: it can raise a flag; if not, it is known only to ask about slips."""

    key: str
    meter_ids: tuple[int, ...]
    heeds: Heeds
    step: float
    programme: Programme = Programme.ANY
    weather: Weather = Weather.ANY
    quantity: str = ""
    is_slow: bool = False
    is_each_round: bool = True
    is_test: bool = False
    stage: str = ""
    socket: str = ""
    relation: str = ""
    goes_with_power: bool = False
    tap_exponent: float | None = None
    is_judged: bool = True

    @property
    def meter_id(self) -> int:
        return self.meter_ids[0]

    @property
    def is_steady(self) -> bool:
        """Whether a slow change of it says something: the weather moves temperatures by itself."""
        return bool(self.relation) or self.quantity not in OF_THE_HEAT

    @property
    def climbs(self) -> bool:
        """Whether it rises by itself, from one change of the resin to the next."""
        return self.quantity in CLIMB

    @property
    def heeds_the_point(self) -> bool:
        return self.heeds != Heeds.NOTHING

    @property
    def goes_with_season(self) -> bool:
        """Whether the aerial's own year moves it: a quiet winter says nothing of the summer."""
        return self.quantity in GO_WITH_SEASON

    @property
    def goes_on(self) -> bool:
        """Whether its level goes on from run to run: no wave tunes it anew."""
        return self.heeds in (Heeds.NOTHING, Heeds.POWER)


COUNTERS = frozenset({"hours", "water_volume"})
ON_THE_AERIAL = frozenset({"reflected_power", "feeder_current"})
CLIMB = frozenset({"conductivity"})
GO_WITH_SEASON = frozenset({"feeder_current", "feeder"})
OF_THE_HEAT = frozenset({"water_temperature", "air_temperature"})
OF_THE_WATER = frozenset({"leakage_current"})
BY_RELATION = frozenset({"reflected_power", "leakage_current"})
"""Judged by what they are beside another meter: forward power, conductivity."""
DIALS = frozenset({"dial", "coupling_dial"})
MOVED_BY_RF = frozenset({"rf", "ht", "aerial"})


def heeds_of(facts: MeterFacts) -> Heeds:
    """What of the operating point moves a meter.

    Source: the quantities' laws; that temperatures go with the heat and the water's leakage with
    the HT alone is common practice, no source.
    """
    if facts.quantity in ON_THE_AERIAL:
        return Heeds.AERIAL
    if facts.quantity in OF_THE_HEAT | OF_THE_WATER:
        return Heeds.POWER
    if facts.quantity in DIALS or facts.live in MOVED_BY_RF:
        return Heeds.WAVE
    return Heeds.NOTHING


def channels_of(meters: Iterable[MeterFacts]) -> tuple[Channel, ...]:
    """The channels of the meters themselves, counters left out."""
    read = [facts for facts in meters if facts.quantity not in COUNTERS]
    raw = raw_water(read)
    return tuple(
        replace(one, is_judged=one.is_judged and facts is not raw)
        for facts in read
        for one in of_meter(facts)
    )


def raw_water(meters: Iterable[MeterFacts]) -> MeterFacts | None:
    """The temperature that the weather makes and that cools the others: the coldest of several by
    the register, for heat only goes from warm to cold."""
    waters = [facts for facts in meters if facts.quantity == "water_temperature"]
    return min(waters, key=lambda facts: facts.usual) if len(waters) > 1 else None


def of_meter(facts: MeterFacts) -> Iterator[Channel]:
    whole = Channel(
        key=facts.code,
        meter_ids=(facts.meter_id,),
        heeds=heeds_of(facts),
        step=facts.step,
        quantity=facts.quantity,
        is_slow=facts.moves == "slow",
        is_each_round=facts.occasion == "round",
        is_test=facts.occasion == "test",
        stage=facts.stage,
        socket=facts.socket,
        goes_with_power=facts.tap_exponent == 1 and facts.quantity not in OF_THE_WATER,
        tap_exponent=None if facts.quantity in OF_THE_HEAT else facts.tap_exponent,
        is_judged=facts.quantity not in BY_RELATION,
    )
    for one in by_programme(whole, facts.moves, facts.upper_step):
        yield from by_weather(one)


def by_programme(whole: Channel, moves: str, upper_step: float) -> Iterator[Channel]:
    """A slow meter counts as on carrier after minutes of it alone: too seldom for a level."""
    if moves == "none":
        yield whole
        return
    yield replace(whole, key=f"{whole.key} on", programme=Programme.ON, step=upper_step)
    if moves == "fast":
        yield replace(whole, key=f"{whole.key} carrier", programme=Programme.CARRIER)


def by_weather(one: Channel) -> Iterator[Channel]:
    if one.heeds != Heeds.AERIAL:
        yield one
        return
    for weather in (Weather.DRY, Weather.WET):
        yield replace(one, key=f"{one.key} {weather}", weather=weather)
