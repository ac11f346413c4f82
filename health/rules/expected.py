"""What a reading should be at its operating point, learned from the weeks before. Pure.

Between two retunes everything settles at its own level, and within such a run only the meter's
noise moves: so there are two scatters. The first reading of a run is judged by both, later ones
against the run's own level.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np
import numpy.typing as npt
import pandas as pd

from health.statistics.robust import CLIP_SIGMAS, TO_SIGMA, clipped_centre, working_sigma

FEWEST_READINGS, FEWEST_RUNS = 8, 3
"""Below these there is no reference yet: common practice, no source."""
LAST_OF_RUN = 3
"""How many of a run's readings say where it stands now: a morning warms up."""
BELIEVED_SIGMAS, GROSS_SIGMAS = 6.0, 8.0
TAIL, TAIL_SIGMAS = 0.975, 2.2414
"""The part of the readings that lies within so many sigmas, if they are normal."""
KEYS = ["meter_id", "place"]
OF_RUN = [*KEYS, "run"]


@dataclass(frozen=True)
class Reference:
    """A meter at one operating point, in its unit: the centre of the runs' levels, the scatter
    between runs and within a run."""

    centre: float
    between: float
    within: float
    runs: int
    readings: int


@dataclass(frozen=True)
class Expected:
    """What a reading should be, with one sigma of it, and one of all readings at this point."""

    value: float
    sigma: float
    total: float = 0.0


def references(frame: pd.DataFrame, steps: Mapping[int, float]) -> dict[tuple[int, int], Reference]:
    """The references of every meter and operating point that was read often enough.

    Parameters
    ----------
    frame : DataFrame
        One row a reading: ``meter_id``, ``place`` (a number for each operating point),
        ``run`` (a number for each run), ``value`` (the meter's unit). Missing values are left
        out.
    steps : mapping of meter_id to float
        The smallest step of each meter, in its unit.

    Returns
    -------
    dict
        By meter and place; a pair with fewer than FEWEST_READINGS or FEWEST_RUNS is not there.

    Notes
    -----
    A run's level is the mean of what lies within three robust sigmas, or two steps, of its
    median: the median of coarse readings is biased, and a slip spoils a plain mean.

    Source
    ------
    Derived here; two scatters as in an analysis of variance of one factor.

    Example
    -------
    >>> rows = [(1, 0, run, 10.0 + 0.1 * run) for run in range(4) for _ in range(3)]
    >>> frame = pd.DataFrame(rows, columns=["meter_id", "place", "run", "value"])
    >>> found = references(frame, {1: 0.02})[1, 0]
    >>> round(found.centre, 2), found.runs, found.readings
    (10.15, 4, 12)
    """
    known = frame[frame["value"].notna()].copy()
    if known.empty:
        return {}
    kept = known[is_near(known, steps)].copy()
    by_run = kept.groupby(OF_RUN)["value"]
    kept["rest"] = (kept["value"] - by_run.transform("mean")) ** 2
    level = by_run.mean().rename("level")
    levels = level.reset_index()
    sums = kept.groupby(KEYS).agg(rest=("rest", "sum"), readings=("value", "size"))
    sums["tail"] = tails(known.join(level, on=OF_RUN), sums, steps)
    found = {}
    for (meter_id, place), of_place in levels.groupby(KEYS)["level"]:
        rest, readings, tail = sums.loc[(meter_id, place)]
        runs, step = len(of_place), steps[meter_id]
        if readings < FEWEST_READINGS or runs < FEWEST_RUNS:
            continue
        free = max(readings - runs, 1)
        found[int(meter_id), int(place)] = Reference(
            centre=clipped_centre(of_place, step)[0],
            between=working_sigma(of_place, step),
            within=max(float(np.sqrt(rest / free)), float(tail), step / 2),
            runs=runs,
            readings=int(readings),
        )
    return found


def tails(known: pd.DataFrame, sums: pd.DataFrame, steps: Mapping[int, float]) -> pd.Series:
    """Sigma by which the outer readings lie from their run's level, gross slips left out: on
    programme, and in weather, a normal sigma says too little."""
    usual = np.sqrt(sums["rest"] / sums["readings"]).rename("usual")
    table = known.join(usual, on=KEYS)
    away = (table["value"] - table["level"]).abs()
    reach = np.maximum(GROSS_SIGMAS * table["usual"], 4 * table["meter_id"].map(steps))
    inside = table.assign(away=away)[away <= reach]
    return inside.groupby(KEYS)["away"].quantile(TAIL) / TAIL_SIGMAS


def is_near(known: pd.DataFrame, steps: Mapping[int, float]) -> npt.NDArray[np.bool_]:
    """Which readings lie near the median of their run, and not grossly off that of all runs: of
    two readings of a run the median lies between a slip and the truth.
    """
    distance = (known["value"] - known.groupby(OF_RUN)["value"].transform("median")).abs()
    spread = distance.groupby([known[name] for name in OF_RUN]).transform("median")
    reach = np.maximum(CLIP_SIGMAS * TO_SIGMA * spread, 2 * known["meter_id"].map(steps))
    middle = known.groupby(KEYS)["value"].transform("median")
    away = (known["value"] - middle).abs()
    usual = away.groupby([known[name] for name in KEYS]).transform("median")
    gross = np.maximum(GROSS_SIGMAS * TO_SIGMA * usual, 4 * known["meter_id"].map(steps))
    return np.asarray((distance <= reach) & (away <= gross))


def believed(
    reference: Reference, values: npt.ArrayLike, is_confirmed: npt.ArrayLike
) -> npt.NDArray[np.float64]:
    """The readings of a run that the next one is held against: a slip that nobody saw is not.

    Parameters
    ----------
    reference : Reference
    values : array_like
        In the meter's unit, in the order of time.
    is_confirmed : array_like of bool
        Read twice: believed however far it lies.

    Returns
    -------
    ndarray
        In the meter's unit.

    Notes
    -----
    Within BELIEVED_SIGMAS of the reference, or confirmed, or within as many scatters of a run of
    the reading before it.

    Source
    ------
    Derived here.

    Example
    -------
    >>> reference = Reference(12.4, between=0.12, within=0.05, runs=9, readings=40)
    >>> believed(reference, [12.6, 1.26, 14.0], [False, False, True]).tolist()
    [12.6, 14.0]
    """
    row = np.asarray(values, dtype=np.float64)
    reach = BELIEVED_SIGMAS * hypot(reference.between, reference.within)
    repeats = np.abs(np.diff(row, prepend=np.nan)) <= BELIEVED_SIGMAS * reference.within
    is_near_it = np.abs(row - reference.centre) <= reach
    kept = is_near_it | np.asarray(is_confirmed, dtype=bool) | repeats
    return np.asarray(row[kept])


def expected(reference: Reference, of_run: npt.ArrayLike) -> Expected:
    """What the next reading of a run should be.

    Parameters
    ----------
    reference : Reference
    of_run : array_like
        What was read in this run so far, in the meter's unit; NaN is missing.

    Returns
    -------
    Expected

    Notes
    -----
    The run's own level is weighed against the reference by their scatters: with n readings its
    share is between^2 / (between^2 + within^2 / n). Sigma is that of the level so found, and of
    the reading itself.

    Source
    ------
    The best linear estimate of a level with one random effect; any handbook of statistics.

    Example
    -------
    >>> reference = Reference(12.4, between=0.12, within=0.05, runs=9, readings=40)
    >>> first, later = expected(reference, []), expected(reference, [12.6, 12.6, 12.6])
    >>> round(first.value, 2), round(first.sigma, 2), round(later.value, 2), round(later.sigma, 3)
    (12.4, 0.13, 12.59, 0.057)
    """
    total = hypot(reference.between, reference.within)
    read = np.asarray(of_run, dtype=np.float64)
    read = read[~np.isnan(read)][-LAST_OF_RUN:]
    if not read.size:
        return Expected(reference.centre, total, total)
    own = reference.within**2 / read.size
    share = reference.between**2 / (reference.between**2 + own)
    level = reference.centre + share * (float(np.median(read)) - reference.centre)
    return Expected(level, hypot(np.sqrt(share * own), reference.within), total)
