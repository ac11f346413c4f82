"""What the next reading of each channel should be. Pure.

Between two retunes everything settles at its own level, and within such a run only the meter's
noise moves: so there are two scatters. The first reading of a run is judged by both, later ones
against the run's own level.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from health.rules.memory import Day, Expectation

Numbers = npt.NDArray[np.float64]

LAST_OF_RUN = 3
"""How many of a run's readings say where it stands now: a morning warms up."""
FAR_SIGMAS, FAR_TOTAL, FAR_STEPS = 4.0, 3.3, 1.5
BELIEVED_SIGMAS = 6.0
SETTLING_SHARE = 0.08
"""How far a slow meter may be from where it settles, as a share of it."""


@dataclass(frozen=True)
class Expected:
    """What a reading should be, with one sigma of it, and how far from it is asked about.
    ``is_borrowed``: by the law of power from another power, not from readings at this one."""

    value: float
    sigma: float
    reach: float
    is_borrowed: bool = False


@dataclass(frozen=True)
class Ahead:
    """The same for every channel, before anything of the run was read: arrays by channel.

    ``between`` is the scatter of a run's level about ``level``; NaN where there is no baseline.
    """

    level: Numbers
    between: Numbers
    within: Numbers
    steps: Numbers


def ahead(known: Expectation, last: Day, steps: Numbers) -> Ahead:
    """What the first reading of a run should be.

    Parameters
    ----------
    known : Expectation
        The baselines at the operating point.
    last : Day
        The newest day that has ended.
    steps : ndarray [the channels' units]

    Returns
    -------
    Ahead

    Notes
    -----
    Level = centre + recent x total; the scatter seen in the last weeks takes the place of the
    baseline's own.

    Source
    ------
    Derived here.

    Example
    -------
    >>> from health.rules.memory import blank_day
    >>> known = Expectation(*np.array([[12.4], [0.12], [0.05]]))
    >>> ahead(known, blank_day(0, 0, 1), np.array([0.02])).level.tolist()
    [12.4]
    """
    total = known.total * last.scatter
    between = np.sqrt(np.maximum(total**2 - known.within**2, (steps / 3) ** 2))
    within = np.maximum(known.within, steps / 2)
    return Ahead(known.centre + last.recent * known.total, between, within, steps)


def expected(before: Ahead, of_run: Numbers, *, is_settling: npt.ArrayLike = False) -> Numbers:
    """Value, sigma and reach of the next reading of each channel.

    Parameters
    ----------
    before : Ahead
    of_run : ndarray [the channels' units]
        LAST_OF_RUN x channels: the last readings of the run that are believed; NaN for none.
    is_settling : array_like of bool
        By channel: a slow one soon after the RF came on.

    Returns
    -------
    ndarray [the channels' units]
        3 x channels; NaN without a baseline.

    Notes
    -----
    The run's own level is weighed against what was known before by their scatters: with n readings
    its share is between^2 / (between^2 + within^2 / n). Sigma is that of the level so found, and of
    the reading itself.

    Source
    ------
    The best linear estimate of a level with one random effect; any handbook of statistics.

    Example
    -------
    >>> before = Ahead(*np.array([[12.4], [0.12], [0.05], [0.02]]))
    >>> none = np.full((3, 1), np.nan)
    >>> expected(before, none).round(2).ravel().tolist()
    [12.4, 0.13, 0.52]
    >>> expected(before, np.full((3, 1), 12.6)).round(2).ravel().tolist()
    [12.59, 0.06, 0.43]
    """
    count = (~np.isnan(of_run)).sum(axis=0)
    own = before.within**2 / np.maximum(count, 1)
    share = np.where(count > 0, before.between**2 / (before.between**2 + own), 0.0)
    level = before.level + share * (middle(of_run, before.level) - before.level)
    of_level = np.where(count > 0, share * own, before.between**2)
    sigma = np.sqrt(of_level + before.within**2)
    sigma = sigma + np.where(is_settling, SETTLING_SHARE * np.abs(before.level), 0.0)
    total = np.hypot(before.between, before.within)
    reach = np.maximum(np.maximum(FAR_SIGMAS * sigma, FAR_TOTAL * total), FAR_STEPS * before.steps)
    return np.stack([level, sigma, reach])


def middle(of_run: Numbers, otherwise: Numbers) -> Numbers:
    """The median of each column without what is missing."""
    ordered = np.sort(of_run, axis=0)
    count = (~np.isnan(of_run)).sum(axis=0)
    columns = np.arange(of_run.shape[1])
    low = ordered[np.maximum(count - 1, 0) // 2, columns]
    high = ordered[np.minimum(count // 2, of_run.shape[0] - 1), columns]
    return np.where(count > 0, (low + high) / 2, otherwise)


def is_believed(
    before: Ahead, values: Numbers, is_confirmed: npt.ArrayLike, previous: Numbers
) -> npt.NDArray[np.bool_]:
    """Which readings of a round the next ones are held against: a slip that nobody saw is not.

    Parameters
    ----------
    before : Ahead
    values : ndarray [the channels' units]
    is_confirmed : array_like of bool
        Read twice: believed however far it lies.
    previous : ndarray [the channels' units]
        The reading before each in the run, believed or not.

    Notes
    -----
    Within BELIEVED_SIGMAS of what was known before, or confirmed, or within as many scatters of a
    run of the reading before it.
    """
    reach = BELIEVED_SIGMAS * np.hypot(before.between, before.within)
    is_near = ~(np.abs(values - before.level) > reach)
    repeats = np.abs(values - previous) <= BELIEVED_SIGMAS * before.within
    is_sure = is_near | repeats | np.asarray(is_confirmed, dtype=bool)
    return np.asarray(~np.isnan(values) & is_sure)
