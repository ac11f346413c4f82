"""The hot resistance of a filament day by day: its trend, and a step of it. Pure."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from health.formulas.filament import hot_resistance_ohm
from health.statistics.drift import is_told
from health.statistics.trends import FEWEST_POINTS, mann_kendall, theil_sen

Numbers = npt.NDArray[np.float64]

WINDOW_DAYS, EDGE_DAYS = 5, 2
"""What stood before and after is the median of so many days; what the two days on each side of it
show of the change says whether it was a step or a drift: common practice, no source."""
STEP_PERCENT = 2.5
"""A current meter of class 1.5 read at 60 % of its scale may be off by 2.5 % of what it shows: a
smaller step may be the meter. The class is an instrument's own promise, as IEC 60051 has it."""
SHARP = 0.7
"""The part of a change that two days must show to make it a step; of a straight line through both
windows they show 0.4. Derived here."""
SAME_VOLTAGE_PERCENT = 1.0
"""Within a step of 1 % of the setting the wire's own resistance moves by less than 0.5 % (from
memory: as about the square root of the voltage)."""


@dataclass(frozen=True)
class HeaterStep:
    """``percent`` is by how much the current changed at the same voltage; ``day`` the first day
    after, numbered from 1970 UTC."""

    day: int
    percent: float

    @property
    def is_down(self) -> bool:
        """As an open strand or a bad contact has it."""
        return self.percent < 0


@dataclass(frozen=True)
class Heater:
    """``first`` and ``now`` are medians of the first and the last days [ohm], the trend in per
    cent of the first per 1000 filament hours; None with too few days."""

    days: int
    first: float | None = None
    now: float | None = None
    slope: float | None = None
    low: float | None = None
    high: float | None = None
    is_trend_told: bool = False
    step: HeaterStep | None = None

    @property
    def has_step_down(self) -> bool:
        return self.step is not None and self.step.is_down


def heater_of(
    days: npt.ArrayLike, volts: npt.ArrayLike, amps: npt.ArrayLike, hours: npt.ArrayLike
) -> Heater:
    """What the daily filament readings of one tube say.

    Parameters
    ----------
    days : array_like [days from 1970 UTC]
        In order; those of one tube alone.
    volts, amps : array_like [V], [A]
        Medians of each day; NaN is missing.
    hours : array_like [h]
        Filament hours of the tube at the end of each day.

    Returns
    -------
    Heater

    Source
    ------
    Derived here, on ``hot_resistance_ohm``.

    Example
    -------
    Ten days at 12 V, 360 A, then ten at 12 V, 342 A: a step of -5 %.

    >>> found = heater_of(range(20), [12] * 20, [360] * 10 + [342] * 10, range(0, 360, 18))
    >>> found.step.day, round(found.step.percent, 6)
    (10, -5.0)
    """
    at, volt, amp, ran = (np.asarray(one, dtype=np.float64) for one in (days, volts, amps, hours))
    ohm = hot_resistance_ohm(volt, amp)
    is_read = ~np.isnan(ohm)
    at, volt, amp, ran, ohm = (one[is_read] for one in (at, volt, amp, ran, ohm))
    if at.size < FEWEST_POINTS:
        return Heater(days=int(at.size))
    first, now = float(np.median(ohm[:WINDOW_DAYS])), float(np.median(ohm[-WINDOW_DAYS:]))
    percent = 100 * (ohm / first - 1)
    slope, p = theil_sen(ran / 1000, percent), mann_kendall(percent).p
    return Heater(
        days=int(at.size),
        first=first,
        now=now,
        slope=slope.slope if slope else None,
        low=slope.low if slope else None,
        high=slope.high if slope else None,
        is_trend_told=slope is not None and is_told(slope.slope, p),
        step=newest_step(at, volt, amp),
    )


def newest_step(at: Numbers, volts: Numbers, amps: Numbers) -> HeaterStep | None:
    """The newest day before which the current was another one at the same voltage."""
    found = [
        (place, percent)
        for place in range(WINDOW_DAYS, at.size - WINDOW_DAYS + 1)
        if (percent := step_at(place, volts, amps)) is not None
    ]
    if not found:
        return None
    # Neighbouring days show one step: of the newest the largest.
    newest = found[-1][0]
    place, percent = max(
        (one for one in found if newest - one[0] < WINDOW_DAYS), key=lambda one: abs(one[1])
    )
    return HeaterStep(int(at[place]), percent)


def step_at(place: int, volts: Numbers, amps: Numbers) -> float | None:
    """By how many per cent the current stepped before a day, None where it did not."""
    volt, whole = (changed(row, place, WINDOW_DAYS) for row in (volts, amps))
    if abs(whole) < STEP_PERCENT or abs(volt) > SAME_VOLTAGE_PERCENT:
        return None
    edge = changed(amps, place, EDGE_DAYS)
    return whole if edge / whole >= SHARP else None


def changed(row: Numbers, place: int, days: int) -> float:
    """Per cent by which the median of the days after differs from that of the days before."""
    before = np.median(row[place - days : place])
    return float(100 * (np.median(row[place : place + days]) / before - 1))
