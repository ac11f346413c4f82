"""The level of each run in one day, and what it scatters about it. Pure."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from health.rules.sheets import Sheets
from health.statistics.robust import CLIP_SIGMAS, TO_SIGMA

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Levels:
    """Runs x channels of one day: level [the channel's unit, NaN: not read], how many readings
    stand behind it, their sum of squares about it; ``run`` (the entry that began it) and
    ``first_row`` of each."""

    run: Whole
    first_row: Whole
    level: Numbers
    readings: Whole
    squares: Numbers


def run_levels(sheets: Sheets, values: Numbers, steps: Numbers) -> Levels:
    """The levels of a day's runs.

    Parameters
    ----------
    sheets : Sheets
        Of one day.
    values : ndarray [the channels' units]
        Rounds x channels; what is not to count (settling, one cause) is NaN.
    steps : ndarray [the channels' units]

    Returns
    -------
    Levels

    Notes
    -----
    The mean of what lies within three robust sigmas, or two steps, of the run's median: the median
    of coarse readings is biased, and one slip spoils a plain mean.

    Source
    ------
    Derived here.
    """
    begins = np.flatnonzero(np.diff(sheets.run, prepend=-1) != 0)
    lengths = np.diff(np.append(begins, sheets.run.size))
    cube = padded(values, begins, lengths)
    middle = medians(cube)
    distance = np.abs(cube - middle[:, None, :])
    reach = np.maximum(CLIP_SIGMAS * TO_SIGMA * medians(distance), 2 * steps)
    is_kept = distance <= reach[:, None, :]
    readings = is_kept.sum(axis=1)
    kept = np.where(is_kept, cube, 0.0)
    level = kept.sum(axis=1) / np.where(readings, readings, np.nan)
    squares = np.where(is_kept, (cube - level[:, None, :]) ** 2, 0.0).sum(axis=1)
    return Levels(sheets.retune[begins], begins, level, readings, squares)


def padded(values: Numbers, begins: Whole, lengths: Whole) -> Numbers:
    """Runs x rounds x channels, NaN behind the shorter runs."""
    places = np.arange(lengths.max(initial=0))
    is_in = places < lengths[:, None]
    rows = np.where(is_in, begins[:, None] + places, 0)
    return np.where(is_in[:, :, None], values[rows], np.nan)


def medians(cube: Numbers) -> Numbers:
    """Along the second axis without what is missing; NaN where all of it is."""
    ordered = np.sort(cube, axis=1)
    count = (~np.isnan(cube)).sum(axis=1)
    low, high = np.maximum(count - 1, 0) // 2, count // 2
    both = [
        np.take_along_axis(ordered, np.minimum(one, cube.shape[1] - 1)[:, None, :], axis=1)
        for one in (low, high)
    ]
    return np.where(count > 0, (both[0][:, 0] + both[1][:, 0]) / 2, np.nan)
