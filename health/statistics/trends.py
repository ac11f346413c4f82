"""Whether something drifts, how fast, and when it comes to its limit. Pure."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt
from scipy import stats

from health.statistics.pair_slopes import inversions, pairs_of, ranked_slopes

Values = npt.ArrayLike
Numbers = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

FEWEST_POINTS = 8
"""Below this nothing is said of a drift: common practice, no source."""


@dataclass(frozen=True)
class Trend:
    """Mann-Kendall's test. ``p`` is two-sided; NaN with fewer than two points."""

    s: int
    variance: float
    z: float
    p: float


@dataclass(frozen=True)
class Slope:
    """Theil and Sen's slope per unit of x, with its limits, and where the line meets x = 0."""

    slope: float
    low: float
    high: float
    intercept: float


@dataclass(frozen=True)
class Line:
    """A line by least squares: y = intercept + slope x, with the scatter about it."""

    intercept: float
    slope: float
    scatter: float
    slope_error: float
    points: int
    x_mean: float
    x_squares: float


@dataclass(frozen=True)
class Crossing:
    """Where a line comes to a limit: between ``low`` and ``high`` with the confidence asked for."""

    at: float
    low: float
    high: float


def mann_kendall(y: Values) -> Trend:
    """Test for a trend that asks nothing of the distribution.

    Parameters
    ----------
    y : array_like [any one unit]
        In the order of time, evenly or not; without missing ones.

    Returns
    -------
    Trend

    Notes
    -----
    S = sum of sign(y_j - y_i), j > i; var = [n(n-1)(2n+5) - sum t(t-1)(2t+5)] / 18 with ties of
    length t; Z = (S -+ 1) / sqrt(var).

    Source
    ------
    Mann 1945, Kendall 1975; the same values by pymannkendall.

    Example
    -------
    >>> found = mann_kendall([3, 1, 4, 1, 5, 9, 2, 6])
    >>> found.s, round(found.z, 6), round(found.p, 6)
    (11, 1.246757, 0.212486)
    """
    row = np.asarray(y, dtype=np.float64)
    n = row.size
    if n < 2:
        return Trend(0, float("nan"), float("nan"), float("nan"))
    by_value = np.argsort(row, kind="stable")
    falling = inversions(np.argsort(by_value))
    s = int(pairs_of(n) - pairs_of(lengths_of_ties(row)).sum()) - 2 * falling
    variance = (turns(n) - turns(lengths_of_ties(row)).sum()) / 18
    if variance <= 0:
        return Trend(s, float(variance), 0.0, 1.0)
    z = (s - np.sign(s)) / sqrt(variance)
    return Trend(s, float(variance), float(z), float(2 * stats.norm.sf(abs(z))))


def theil_sen(x: Values, y: Values, confidence: float = 0.95) -> Slope | None:
    """The median of the slopes of all pairs: one wrong point in ten does not move it.

    Parameters
    ----------
    x : array_like [hours, days: any one unit]
    y : array_like [any one unit]
        Of the length of ``x``; a pair with a missing value is left out.
    confidence : float [1]

    Returns
    -------
    Slope or None
        None where fewer than two points differ in x.

    Notes
    -----
    Limits by the order statistics at (N -+ z sqrt(var S)) / 2. No list of all pairs is made:
    ``pair_slopes``.

    Source
    ------
    Theil 1950, Sen 1968, limits after Gilbert 1987; the same values by scipy.

    Example
    -------
    >>> found = theil_sen(range(10), [10.0, 10.1, 10.3, 10.2, 10.5, 10.4, 10.7, 10.6, 10.9, 14.0])
    >>> round(found.slope, 4), round(found.low, 4), round(found.high, 4)
    (0.1125, 0.0857, 0.3)
    """
    at, of = paired(x, y)
    if np.unique(at).size < 2:
        return None
    n, ties = at.size, lengths_of_ties(at)
    count = int(pairs_of(n) - pairs_of(ties).sum())
    variance = (turns(n) - turns(ties).sum() - turns(lengths_of_ties(of)).sum()) / 18
    reach = stats.norm.ppf((1 + confidence) / 2) * sqrt(max(variance, 0.0))
    low = max(round((count - reach) / 2) - 1, 0)
    high = min(round((count + reach) / 2), count - 1)
    middle = ((count - 1) // 2, count // 2)
    slopes = ranked_slopes(at, of, (low, *middle, high)).tolist()
    slope = (slopes[1] + slopes[2]) / 2
    return Slope(slope, slopes[0], slopes[3], float(np.median(of) - slope * np.median(at)))


def lengths_of_ties(row: Numbers) -> Counts:
    return np.asarray(np.unique(row, return_counts=True)[1])


def turns(n: npt.ArrayLike) -> Counts:
    """18 times the variance of Kendall's S of n values, or what ties of length n take off it."""
    length = np.asarray(n, dtype=np.int64)
    return np.asarray(length * (length - 1) * (2 * length + 5))


def least_squares(x: Values, y: Values) -> Line | None:
    """The usual straight line.

    Parameters
    ----------
    x : array_like [hours, days: any one unit]
    y : array_like [any one unit]
        Of the length of ``x``; a pair with a missing value is left out.

    Returns
    -------
    Line or None
        None with fewer than three points, or where x does not differ.

    Notes
    -----
    b = Sxy / Sxx, a = mean y - b mean x, s^2 = sum of squares about it / (n - 2).

    Source
    ------
    NIST/SEMATECH e-Handbook 4.1.4.1.

    Example
    -------
    >>> found = least_squares([0, 1, 2, 3], [1.0, 3.0, 5.0, 7.0])
    >>> found.intercept, found.slope
    (1.0, 2.0)
    """
    at, of = paired(x, y)
    squares = float(((at - at.mean()) ** 2).sum()) if at.size else 0.0
    if at.size < 3 or squares == 0:
        return None
    slope = float(((at - at.mean()) * (of - of.mean())).sum() / squares)
    intercept = float(of.mean() - slope * at.mean())
    scatter = sqrt(float(((of - intercept - slope * at) ** 2).sum()) / (at.size - 2))
    return Line(
        intercept=intercept,
        slope=slope,
        scatter=scatter,
        slope_error=scatter / sqrt(squares),
        points=int(at.size),
        x_mean=float(at.mean()),
        x_squares=squares,
    )


def time_to_limit(
    line: Line, limit: float, confidence: float = 0.95, *, of_one_reading: bool = False
) -> Crossing | None:
    """When a line comes to a limit, as a range, or None for 'no reliable date'.

    Parameters
    ----------
    line : Line
    limit : float [unit of y]
    confidence : float [1]
    of_one_reading : bool
        With the scatter of a single future reading.

    Returns
    -------
    Crossing or None
        In the unit of x. None where the slope cannot be told from none.

    Notes
    -----
    Inverse regression: the x at which the band about the line meets the limit. With
    g = (t s)^2 / (b^2 Sxx) at 1 or more the set has no end.

    Source
    ------
    Fieller 1954; the same values by the roots of statsmodels' bands.

    Example
    -------
    >>> y = [100.2, 99.7, 99.9, 99.4, 99.1, 99.2, 98.6, 98.5, 98.2, 97.9]
    >>> found = time_to_limit(least_squares(range(10), y), 95.0)
    >>> round(found.at, 4), round(found.low, 4), round(found.high, 4)
    (21.0815, 18.7595, 24.2706)
    """
    if line.slope == 0:
        return None
    t = float(stats.t.ppf((1 + confidence) / 2, line.points - 2))
    g = (t * line.slope_error / line.slope) ** 2
    if g >= 1:
        return None
    at = (limit - line.intercept) / line.slope
    away = at - line.x_mean
    own = 1 if of_one_reading else 0
    reach = sqrt(away**2 / line.x_squares + (1 - g) * (own + 1 / line.points))
    half = t * line.scatter / abs(line.slope) * reach
    middle = line.x_mean + away / (1 - g)
    return Crossing(at, middle - half / (1 - g), middle + half / (1 - g))


def paired(x: Values, y: Values) -> tuple[Numbers, Numbers]:
    """Both as rows without the pairs of which one is missing."""
    at, of = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    is_known = ~(np.isnan(at) | np.isnan(of))
    return at[is_known], of[is_known]
