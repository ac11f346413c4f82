"""Whether a channel drifts, how fast by hours on the air, and when it comes to a limit. Pure."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from health.statistics.trends import (
    FEWEST_POINTS,
    Line,
    Slope,
    least_squares,
    mann_kendall,
    theil_sen,
    time_to_limit,
)

Values = npt.ArrayLike
Numbers = npt.NDArray[np.float64]

WEEK_DAYS, MONDAY = 7, 4
"""Day 4 of 1970 was a Monday, the days being numbered from 0."""
FEWEST_WEEKS = 8
TOLD_BELOW = 0.01
"""A drift is told from none where chance alone gives such a trend less often: common practice, no
source. Of a hundred channels that stand still one is still told."""
HOURS = 1000.0


class Grain(StrEnum):
    """What one point of a drift is."""

    DAY, WEEK = "day", "week"


@dataclass(frozen=True)
class Drifting:
    """How a channel drifts.

    Attributes
    ----------
    slope : median slope with its limits of 95 % [the channel's unit per 1000 h on the air]
    p : how often chance alone gives such a trend [1]
    line : least squares, by days from 1970 UTC [the channel's unit per day]
    days : days that speak
    points, grain : how many points the trend is made of, and what each of them is
    """

    slope: Slope
    p: float
    line: Line
    days: int
    points: int
    grain: Grain

    @property
    def is_told(self) -> bool:
        return is_told(self.slope.slope, self.p)


def ends_week(day: int) -> bool:
    """Whether a day, numbered from 1970 UTC, is a Sunday."""
    return (day + 1 - MONDAY) % WEEK_DAYS == 0


def is_told(slope: float, p: float) -> bool:
    """Whether a trend is told from none."""
    return p < TOLD_BELOW and slope != 0


@dataclass(frozen=True)
class Days:
    """In how many days a limit is reached: between ``low`` and ``high``, 0 where it is now."""

    low: float
    high: float


def drift_of(
    day: Values, offset: Values, hours: Values, *, days: int | None = None, grain: Grain = Grain.DAY
) -> Drifting | None:
    """The drift of a channel since its baselines began, through points of one grain.

    Parameters
    ----------
    day : array_like [days from 1970 UTC]
        Of each point, in order.
    offset : array_like [the channel's unit]
        Mean residual of its runs; of the length of ``day``, without missing values.
    hours : array_like [h]
        On the air, summed up to the end of that day; of the length of ``day``.
    days : int [1]
        How many days speak in all; None: as many as points.
    grain : Grain
        What a point is: a week where at least FEWEST_WEEKS weeks speak, else a day.

    Returns
    -------
    Drifting or None
        None with fewer than FEWEST_POINTS points, or where no hour on the air lies between them:
        'not enough data'.

    Notes
    -----
    Days are not independent (a retuning remembers the day before), and what is judged by days is
    told from none too easily; so nothing but a steep trend of few weeks rests on them.

    Source
    ------
    Mann 1945 and Sen 1968 through ``trends``; the grain is common practice, no source.

    Example
    -------
    Eight days of 20 h that rise by 0.1 a day: 0.1 / 20 h = 5 per 1000 h.

    >>> found = drift_of(range(8), [0.1 * day for day in range(8)], [20 * day for day in range(8)])
    >>> round(found.slope.slope, 6), found.points, found.grain.value, found.is_told
    (5.0, 8, 'day', True)
    """
    at, of, ran = (np.asarray(one, dtype=np.float64) for one in (day, offset, hours))
    if at.size < FEWEST_POINTS:
        return None
    slope, line = theil_sen(ran / HOURS, of), least_squares(at, of)
    if slope is None or line is None:
        return None
    return Drifting(slope, mann_kendall(of).p, line, days or at.size, at.size, grain)


def days_to_limit(found: Drifting, limit: float, as_of: float) -> Days | None:
    """In how many days a drift comes to a limit.

    Parameters
    ----------
    found : Drifting
    limit : float [the channel's unit]
        As an offset from the baselines, on the side towards which it drifts.
    as_of : float [days from 1970 UTC]

    Returns
    -------
    Days or None
        None for 'no reliable date': the slope by days cannot be told from none, or goes the other
        way than the slope by hours.

    Notes
    -----
    By days and not by hours, so it holds while the transmitter is used as it was. 95 %, of the
    mean and not of one reading.

    Source
    ------
    Fieller 1954 through ``trends``.

    Example
    -------
    A rise of 0.1 a day from 0 on day 0 comes to 2.0 on day 20, that is 13 days after day 7.

    >>> found = drift_of(range(8), [0.1 * day for day in range(8)], [20 * day for day in range(8)])
    >>> round(days_to_limit(found, 2.0, as_of=7).low, 6)
    13.0
    """
    if found.line.slope * found.slope.slope <= 0:
        return None
    crossing = time_to_limit(found.line, limit)
    if crossing is None:
        return None
    return Days(max(crossing.low - as_of, 0.0), max(crossing.high - as_of, 0.0))


def hours_by_day(at: Values, is_on: npt.ArrayLike, days: Values, as_of: float) -> Numbers:
    """Hours on the air up to the end of each day.

    Parameters
    ----------
    at : array_like [h from 1970 UTC]
        Instants at which a state began, in order.
    is_on : array_like of bool
        Whether that state is on the air; of the length of ``at``.
    days : array_like [days from 1970 UTC]
    as_of : float [h from 1970 UTC]
        Until then the last state stands.

    Returns
    -------
    ndarray [h]
        Of the length of ``days``; none before the first instant.

    Source
    ------
    Derived here.

    Example
    -------
    On the air from 6 to 18 on day 0, and from 6 on day 1 on.

    >>> hours_by_day([6, 18, 30], [True, False, True], [0, 1], as_of=48).tolist()
    [12.0, 30.0]
    """
    instants = np.append(np.asarray(at, dtype=np.float64), as_of)
    lengths = np.maximum(np.diff(instants), 0.0) * np.asarray(is_on, dtype=bool)
    total = np.concatenate(([0.0], np.cumsum(lengths)))
    return np.asarray(np.interp((np.asarray(days, dtype=np.float64) + 1) * 24, instants, total))
