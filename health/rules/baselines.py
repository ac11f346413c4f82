"""What a channel read at one operating point when its baseline began. Pure.

Learned of the first runs at that point, anew once more of them are known, and then left alone: a
baseline that followed would follow a fault as well. An event (tube, instrument, coil, antenna)
begins it anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from health.statistics.robust import clipped_centre

FIRST_RUNS, FIRST_LEVELS, FIRST_DAYS = 4, 8, 7
LAST_RUNS, LAST_LEVELS, LAST_DAYS = 8, 20, 28
"""After how many runs, levels and days a baseline is learned first, and for the last time: what
wanders for weeks shows its level in no week alone. Of a weekly test half as many runs and a third
of the levels: common practice, no source."""


@dataclass(frozen=True)
class Point:
    """One run's level in one day [the channel's unit], with what stands behind it."""

    day: int
    run: int
    level: float
    readings: int
    squares: float


@dataclass(frozen=True)
class Baseline:
    """Centre of the runs' levels, scatter between runs and within a run [the channel's unit].

    ``day`` is the last of those that it is learned of: it holds from the next one on. ``is_last``:
    it is not learned again.
    """

    centre: float
    between: float
    within: float
    runs: int
    readings: int
    day: int
    is_last: bool

    @property
    def total(self) -> float:
        return hypot(self.between, self.within)


def wanted(is_last: bool, is_test: bool) -> tuple[int, int, int]:
    """How many runs, levels and days a baseline wants."""
    first, last = (FIRST_RUNS, FIRST_LEVELS, FIRST_DAYS), (LAST_RUNS, LAST_LEVELS, LAST_DAYS)
    runs, levels, days = last if is_last else first
    return (runs // 2, levels // 3, days) if is_test else (runs, levels, days)


def is_due(
    points: Sequence[Point], before: Baseline | None, *, is_test: bool, climbs: bool = False
) -> bool:
    """Whether a baseline can be learned that says more than the one before: of what climbs by
    itself as soon as it can, for a month of it would take the climb for scatter."""
    if before is not None and before.is_last:
        return False
    runs, levels, days = wanted(before is not None, is_test)
    is_long = climbs or (bool(points) and points[-1].day - points[0].day >= days - 1)
    return is_long and len(points) >= levels and run_count(points) >= runs


def run_count(points: Sequence[Point]) -> int:
    return len({point.run for point in points})


def learned(points: Sequence[Point], step: float, *, is_last: bool) -> Baseline:
    """The baseline of some levels.

    Parameters
    ----------
    points : sequence of Point
        In the order of time.
    step : float [the channel's unit]
    is_last : bool

    Returns
    -------
    Baseline
        Neither scatter is below a third of the step; the one between runs is widened by
        1 + 2 / runs, since few runs know it badly.

    Notes
    -----
    Levels that lie beyond three sigmas of all are left out; several of one run count as one.

    Source
    ------
    Derived here; two scatters as in an analysis of variance of one factor.

    Example
    -------
    >>> points = [Point(day, day, 10.0 + 0.1 * (day % 2), 3, 0.02) for day in range(8)]
    >>> found = learned(points, 0.02, is_last=False)
    >>> round(found.centre, 2), round(found.between, 3), round(found.within, 2), found.runs
    (10.05, 0.067, 0.1, 8)
    """
    levels = np.array([point.level for point in points])
    centre, sigma = clipped_centre(levels, step)
    kept = [point for point in points if abs(point.level - centre) <= max(3 * sigma, 2 * step)]
    by_run: dict[int, list[float]] = {}
    for point in kept:
        by_run.setdefault(point.run, []).append(point.level)
    of_runs = np.array([np.mean(one) for one in by_run.values()])
    free = sum(max(point.readings - 1, 0) for point in points)
    between = of_runs.std(ddof=1) * (1 + 2 / of_runs.size) if of_runs.size > 1 else 0.0
    return Baseline(
        centre=float(of_runs.mean()),
        between=max(float(between), step / 3),
        within=max(sqrt(sum(point.squares for point in points) / max(free, 1)), step / 3),
        runs=int(of_runs.size),
        readings=sum(point.readings for point in points),
        day=points[-1].day,
        is_last=is_last,
    )
