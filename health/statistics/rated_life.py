"""When a tube comes to its rated life, from its hours and the hours a week. Pure.

This is not a statistical life: it says what the rated life, its spread and the last weeks say.
Source: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

# The rate is taken from the middle half of the weeks: a week off the air does not make a plan.
SLOW_WEEK, BUSY_WEEK = 25, 75


@dataclass(frozen=True)
class DaysLeft:
    """Days until the rated life is reached: at the earliest, at the latest."""

    early: int
    late: int


def days_to_rated_life(
    used_h: float, rated_life_h: float, life_spread_h: float, hours_a_week: Sequence[float]
) -> DaysLeft | None:
    """Days until a tube comes to its rated life.

    Parameters
    ----------
    used_h : float
        Filament hours so far [h], >= 0.
    rated_life_h : float
        Rated life [h], > 0.
    life_spread_h : float
        One sigma of the lives of this type [h]; 0 where it is not known.
    hours_a_week : sequence of float
        Filament hours of each of the last weeks [h].

    Returns
    -------
    DaysLeft or None
        Early: a short life and busy weeks; late: a long life and slow weeks. 0 once it is
        past. None where the hours of the weeks give no reliable date.

    Example
    -------
    >>> days_to_rated_life(9000, 11_000, 0, [100] * 8)
    DaysLeft(early=140, late=140)
    """
    if not len(hours_a_week):
        return None
    slow, busy = np.percentile(hours_a_week, [SLOW_WEEK, BUSY_WEEK])
    if slow <= 0:
        return None
    shortest = max(rated_life_h - life_spread_h - used_h, 0.0)
    longest = max(rated_life_h + life_spread_h - used_h, 0.0)
    return DaysLeft(int(7 * shortest / busy), ceil(7 * longest / slow))
