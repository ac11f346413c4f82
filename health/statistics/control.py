"""Control charts: cumulative sums, weighted means, single values, run rules. Pure."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Values = npt.ArrayLike
Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]

# d2 and D4 of ranges of two: mean range and its upper limit in sigmas. Source: numerical
# integration; printed in NIST/SEMATECH e-Handbook 6.3.2.2 as 1.128 and 3.267.
D2_OF_TWO, D4_OF_TWO = 1.128, 3.267


@dataclass(frozen=True)
class Sums:
    """The cumulative sums of a value at each point; a signal stands where one is above h."""

    high: Numbers
    low: Numbers
    signals: Marks


@dataclass(frozen=True)
class Individuals:
    """Limits of single values from their moving ranges."""

    centre: float
    mean_range: float
    low: float
    high: float
    range_high: float


def cusum(values: Values, target: float, slack: float, decision: float) -> Sums:
    """Tabular cumulative sums, both ways, without a reset.

    Parameters
    ----------
    values : array_like [any one unit]
        In the order of time; a missing one changes nothing.
    target, slack, decision : float [the same unit]
        Mean, k and h.

    Returns
    -------
    Sums
        Of the length of ``values``.

    Notes
    -----
    S_hi = max(0, S_hi' + x - mu - k), S_lo = max(0, S_lo' + mu - k - x); a signal is above h.

    Source
    ------
    NIST/SEMATECH e-Handbook 6.3.2.3.

    Example
    -------
    >>> found = cusum([0.0, 1.0, 2.0, 2.0], target=0.0, slack=0.5, decision=2.0)
    >>> found.high.tolist(), found.signals.tolist()
    ([0.0, 0.5, 2.0, 3.5], [False, False, False, True])
    """
    row = np.asarray(values, dtype=np.float64)
    high, low = np.zeros(row.size), np.zeros(row.size)
    above = below = 0.0
    for place, value in enumerate(row.tolist()):
        if value == value:  # NaN is missing
            above = max(0.0, above + value - target - slack)
            below = max(0.0, below + target - slack - value)
        high[place], low[place] = above, below
    return Sums(high, low, (high > decision) | (low > decision))


def ewma(values: Values, weight: float, start: float) -> Numbers:
    """Exponentially weighted moving mean.

    Parameters
    ----------
    values : array_like [any one unit]
        In the order of time; a missing one leaves the mean as it was.
    weight : float [1]
        Of the newest value, above 0 to 1.
    start : float [the same unit]

    Returns
    -------
    ndarray [the same unit]

    Notes
    -----
    z = w x + (1 - w) z'.

    Source
    ------
    NIST/SEMATECH e-Handbook 6.3.2.4; the same values by pandas.

    Example
    -------
    >>> ewma([52.0, 47.0], weight=0.3, start=50.0).round(2).tolist()
    [50.6, 49.52]
    """
    row = np.asarray(values, dtype=np.float64)
    means, mean = np.zeros(row.size), start
    for place, value in enumerate(row.tolist()):
        mean = mean if value != value else weight * value + (1 - weight) * mean
        means[place] = mean
    return means


def ewma_half_width(sigma: float, weight: float, width: float, number: Values = np.inf) -> Numbers:
    """How far the limits of a weighted mean lie from its centre.

    Parameters
    ----------
    sigma : float [any one unit]
        Of the single values.
    weight : float [1]
    width : float [1]
        In sigmas of the mean, usually 3.
    number : array_like [1]
        Which point, from 1; without it the limits of the steady state.

    Returns
    -------
    ndarray [the same unit]

    Notes
    -----
    L s sqrt(w / (2 - w) (1 - (1 - w)^(2 t))).

    Source
    ------
    NIST/SEMATECH e-Handbook 6.3.2.4.

    Example
    -------
    >>> round(float(ewma_half_width(2.0539, 0.3, 3.0)), 4)
    2.5884
    """
    begun = 1 - (1 - weight) ** (2 * np.asarray(number, dtype=np.float64))
    return np.asarray(width * sigma * np.sqrt(weight / (2 - weight) * begun))


def individuals(values: Values) -> Individuals:
    """Limits of single values by their moving ranges.

    Parameters
    ----------
    values : array_like [any one unit]
        In the order of time; two or more.

    Returns
    -------
    Individuals
        In the same unit; NaN with fewer than two values.

    Notes
    -----
    mean -+ 3 MR / 1.128; the ranges' own limit 3.267 MR.

    Source
    ------
    NIST/SEMATECH e-Handbook 6.3.2.2.

    Example
    -------
    >>> found = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(found.centre, 2), round(found.high, 2), round(found.low, 2)
    (50.81, 55.8, 45.82)
    """
    row = np.asarray(values, dtype=np.float64)
    row = row[~np.isnan(row)]
    if row.size < 2:
        nothing = float("nan")
        return Individuals(nothing, nothing, nothing, nothing, nothing)
    centre, ranges = float(row.mean()), float(np.abs(np.diff(row)).mean())
    reach = 3 * ranges / D2_OF_TWO
    return Individuals(centre, ranges, centre - reach, centre + reach, D4_OF_TWO * ranges)


def run_rules(z: Values) -> dict[str, Marks]:
    """Which of the run rules each point completes.

    Parameters
    ----------
    z : array_like [sigma]
        Distances from the centre in the order of time; a missing one completes nothing and
        breaks every run.

    Returns
    -------
    dict of ndarray of bool
        By the rule's name, as in RULES.

    Notes
    -----
    Limits are strict: a point at 3 sigma is not beyond it.

    Source
    ------
    Western Electric 1956 and Nelson 1984 (from memory).

    Example
    -------
    >>> found = run_rules([0.1, -0.3, 0.4, 3.2])
    >>> [name for name, marks in found.items() if marks.any()]
    ['one beyond 3']
    """
    row = np.asarray(z, dtype=np.float64)
    return {name: ending(row, length, holds) for name, (length, holds) in RULES.items()}


Window = Callable[[Numbers], Marks]


def ending(row: Numbers, length: int, holds: Window) -> Marks:
    """At which points the last ``length`` ones fulfil a rule."""
    found = np.zeros(row.size, dtype=bool)
    if row.size >= length:
        windows = np.lib.stride_tricks.sliding_window_view(row, length)
        found[length - 1 :] = holds(windows) & ~np.isnan(windows).any(axis=1)
    return found


def on_one_side(windows: Numbers) -> Marks:
    return np.asarray((windows > 0).all(axis=1) | (windows < 0).all(axis=1))


def many_beyond(windows: Numbers, limit: float, least: int) -> Marks:
    """So many of the window beyond a limit on the same side, the last of them too."""
    up, down = windows > limit, windows < -limit
    sides = [(side.sum(axis=1) >= least) & side[:, -1] for side in (up, down)]
    return np.asarray(sides[0] | sides[1])


def all_beyond(windows: Numbers, limit: float) -> Marks:
    return np.asarray((np.abs(windows) > limit).all(axis=1))


def all_within_one(windows: Numbers) -> Marks:
    return np.asarray((np.abs(windows) < 1).all(axis=1))


def is_steady(windows: Numbers) -> Marks:
    steps = np.diff(windows, axis=1)
    return on_one_side(steps)


def is_alternating(windows: Numbers) -> Marks:
    steps = np.diff(windows, axis=1)
    return np.asarray((steps[:, 1:] * steps[:, :-1] < 0).all(axis=1))


RULES: dict[str, tuple[int, Window]] = {
    "one beyond 3": (1, lambda windows: all_beyond(windows, 3)),
    "two of three beyond 2": (3, lambda windows: many_beyond(windows, 2, 2)),
    "four of five beyond 1": (5, lambda windows: many_beyond(windows, 1, 4)),
    "eight on one side": (8, on_one_side),
    "nine on one side": (9, on_one_side),
    "six rising or falling": (6, is_steady),
    "fourteen alternating": (14, is_alternating),
    "fifteen within 1": (15, all_within_one),
    "eight beyond 1": (8, lambda windows: all_beyond(windows, 1)),
}
