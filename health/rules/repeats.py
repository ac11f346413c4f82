"""Readings that repeat: how likely that is, and rows that were copied. Pure.

A quiet note for the engineer and never a flag: it asks for a look, it accuses nobody. A coarse
meter repeats by itself, so what counts is how unlikely all the repeats are together.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

FEWEST_ROUNDS = 3
"""Of a copied stretch: common practice, no source."""
COPIED_LOG10 = -4.5
"""With 120 rounds a week some 0.005 notes a week, were the bound the chance itself."""
SHARE = 0.25
"""Of the joint likelihood, for up to four meters that always move as one."""
TELLING = 0.9
"""A meter more likely than this to repeat through a stretch tells nothing."""
LEAST_APART_MIN = 10
"""A round sooner after the one before says the same thing once more: own choice."""
TINY = 1e-6
NODES, OUT_TO = 81, 5.0
"""Of the integrals: points, and how many sigmas out."""
NARROWEST, LEAST = 1e-3, 1e-300

Numbers = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Copied:
    """Rows ``first`` to ``last`` are the same; ``meters`` are the columns that say so."""

    first: int
    last: int
    log10: float
    meters: tuple[int, ...]


def copied(
    values: npt.ArrayLike,
    minutes: npt.ArrayLike,
    *,
    steps: npt.ArrayLike,
    scatters: npt.ArrayLike,
    worst: float = COPIED_LOG10,
) -> list[Copied]:
    """Stretches of rounds whose rows repeat so exactly that chance hardly makes them.

    Parameters
    ----------
    values : array_like, rounds x meters [each meter's unit]
        Of one transmitter in the order of time; NaN is no number, or not read. Counters are best
        left out: who copies a row may well count the hours on.
    minutes : array_like, rounds [min]
    steps, scatters : array_like, meters [each meter's unit]
        Smallest step, and one sigma within a run, behind the rounding; NaN is not known.
    worst : float [1]
        Decimal logarithm at or below which a stretch is returned.

    Returns
    -------
    list of Copied
        In the order of time; ``log10`` [1].

    Notes
    -----
    A row repeats the one before when every meter that is read in both is the same. For each meter
    ``log10_of_repeats`` tells how likely its readings of the stretch fall in one cell by
    themselves, about a level that stays: where a run begins in between, the level moves and they
    repeat less often, so this is a bound. A meter at zero tells nothing, it may just be off.

    Meters that share a factor repeat together. If the meters can be put in k sets, such that those
    of one set are independent, Hoelder's inequality bounds the joint chance, whatever the
    dependence between the sets, by the product of all the chances to the power 1 / k. SHARE is
    that power for k = 4: it holds even where four meters always move as one.

    Source
    ------
    Derived here, from rounding and Hoelder's inequality.

    Example
    -------
    >>> rows = np.tile([12.4, 0.52, 230.0, 310.0, 41.5, 8.7, 5.1, 66.0], (6, 1))
    >>> steps = np.array([0.2, 0.02, 5.0, 5.0, 0.5, 0.1, 0.1, 1.0])
    >>> copied(rows, 60 * np.arange(6), steps=steps, scatters=steps)[0].last
    5
    """
    rows, sizes = floats(values), floats(steps)
    same, is_read = repeated(rows, sizes)
    counts = same & (rows != 0) & is_apart(minutes)[:, None]
    ratio = in_steps(floats(scatters), sizes)
    found = []
    is_repeat = np.asarray(is_read.any(axis=1) & (same | ~is_read).all(axis=1))
    for first, last in stretches(is_repeat):
        inside = counts[first + 1 : last + 1]
        if inside.any(axis=1).sum() + 1 < FEWEST_ROUNDS:
            continue
        logs = log10_of_repeats(ratio, inside.sum(axis=0) + 1)
        tells = np.flatnonzero(logs < np.log10(TELLING))
        log10 = SHARE * float(logs[tells].sum())
        if log10 <= worst:
            found.append(Copied(first, last, log10, tuple(tells.tolist())))
    return found


def log10_of_repeats(ratio: npt.ArrayLike, readings: npt.ArrayLike) -> Numbers:
    """How likely so many readings about one level are all the same.

    Parameters
    ----------
    ratio : array_like [1]
        Scatter over step, >= 0.
    readings : array_like of int [1]
        Of the same shape, >= 1.

    Returns
    -------
    ndarray [1]
        Decimal logarithm, -300 to 0; NaN where the ratio is.

    Notes
    -----
    The integral over y of q(y)^n, where q(y) = Phi((y + 1/2) / r) - Phi((y - 1/2) / r) is the
    chance that a reading falls in a cell whose middle is y steps from the level: the sum over
    the cells and the mean over the level's place in its own. This is far more than the chance of
    one repeat to the power n - 1: a level in the middle of its cell stays there.

    Source
    ------
    Derived here; by the midpoint rule.

    Example
    -------
    >>> log10_of_repeats([0.4, 0.4, 0.1], [2, 12, 12]).round(2).tolist()
    [-0.25, -1.66, -0.17]
    """
    own = np.maximum(floats(ratio), NARROWEST)[:, None]
    reach = 0.5 + OUT_TO * own
    away = reach * (np.arange(NODES) + 0.5) / NODES
    chance = in_cell(away, own) ** np.asarray(readings)[:, None]
    return log10_of(2 * chance.sum(axis=1) * reach[:, 0] / NODES)


def in_cell(away: Numbers, ratio: Numbers) -> Numbers:
    """The chance of a reading in the cell whose middle is so many steps away."""
    return np.asarray(ndtr((away + 0.5) / ratio) - ndtr((away - 0.5) / ratio))


def logs_of(away: Numbers, ratio: Numbers) -> Numbers:
    """Natural logarithm of ``in_cell``, a ratio for each row."""
    own = np.maximum(ratio, NARROWEST)[:, None]
    return np.asarray(np.log(np.maximum(in_cell(away, own), LEAST)))


def log10_of(chance: Numbers) -> Numbers:
    return np.asarray(np.log10(np.clip(chance, LEAST, 1.0)))


def repeated(rows: Numbers, steps: Numbers) -> tuple[Flags, Flags]:
    """Which readings are the same as in the row before, and which are read in both rows."""
    apart = np.abs(np.diff(rows, axis=0, prepend=np.nan))
    return apart <= TINY * steps, ~np.isnan(apart)


def is_apart(minutes: npt.ArrayLike) -> Flags:
    """Which rounds come late enough after the one before to be a reading of their own."""
    return np.asarray(np.diff(floats(minutes), prepend=-np.inf) >= LEAST_APART_MIN)


def stretches(is_repeat: Flags) -> list[tuple[int, int]]:
    """First and last row of each stretch whose rows, all but the first, repeat."""
    edges = np.flatnonzero(np.diff(np.r_[False, is_repeat, False].astype(int)))
    return [(first - 1, end - 1) for first, end in edges.reshape(-1, 2).tolist()]


def in_steps(scatters: Numbers, steps: Numbers) -> Numbers:
    """Scatter over step of each meter; NaN where there is no step."""
    return np.asarray(scatters / np.where(steps > 0, steps, np.nan))


def floats(values: npt.ArrayLike) -> Numbers:
    return np.asarray(values, dtype=np.float64)
