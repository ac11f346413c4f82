"""Readings that stay the same too often: rows that were copied, and a meter that is stuck. Pure.

A quiet note for the engineer and never a flag: it asks for a look, it accuses nobody. A coarse
meter repeats by itself, so what counts is how unlikely all the repeats are together.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import logsumexp, ndtr

FEWEST_ROUNDS, FEWEST_HELD = 3, 6
"""Rounds of a copied stretch, and of a stuck one: common practice, no source."""
COPIED_LOG10, STUCK_LOG10 = -4.5, -6.0
"""With 120 rounds a week, and fifty meters for the second, some 0.005 notes a week each, were the
bounds the chances themselves. Sixty generated years without a fault gave 0 and 2."""
SHARE = 0.25
"""Of the joint likelihood, for up to four meters that always move as one."""
TELLING = 0.9
"""A meter more likely than this to repeat through a stretch tells nothing."""
MISTAKEN = 0.01
"""Chance that what is expected at an operating point is wrong altogether: own choice."""
LEAST_APART_MIN = 10
"""A round sooner after the one before says the same thing once more: own choice."""
FEWEST_PAIRS = 20
TINY = 1e-6
NODES, OUT_TO = 81, 5.0
"""Of the integrals: points, and how many sigmas out."""
NARROWEST, LEAST = 1e-3, 1e-300
COLUMNS = ["meter", "first", "last", "log10"]

Numbers = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Copied:
    """Rows ``first`` to ``last`` are the same; ``meters`` are the columns that say so."""

    first: int
    last: int
    log10: float
    meters: tuple[int, ...]


@dataclass(frozen=True)
class Stuck:
    """Column ``meter`` shows one value in rows ``first`` to ``last``."""

    meter: int
    first: int
    last: int
    log10: float


def copied(
    values: npt.ArrayLike,
    minutes: npt.ArrayLike,
    *,
    steps: npt.ArrayLike,
    scatters: npt.ArrayLike,
    usual: npt.ArrayLike | None = None,
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
        Smallest step, and one sigma within a run, behind the rounding (one that was widened to
        half a step calls for ``usual``); NaN is not known.
    usual : array_like, meters [1]
        How often each meter repeated in its own past, see ``usual_repeats``; NaN is not known.
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
    ratio = ratios(sizes, floats(scatters), usual)
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


def stuck(
    values: npt.ArrayLike,
    levels_should_move: npt.ArrayLike,
    runs: npt.ArrayLike,
    minutes: npt.ArrayLike,
    *,
    steps: npt.ArrayLike,
    scatters: npt.ArrayLike,
    betweens: npt.ArrayLike,
    usual: npt.ArrayLike | None = None,
    usual_between: npt.ArrayLike | None = None,
    worst: float = STUCK_LOG10,
) -> list[Stuck]:
    """Meters that show one value for so long that they hardly can be moving.

    Parameters
    ----------
    values : array_like, rounds x meters [each meter's unit]
        Of one transmitter in the order of time; NaN, no number or not read, neither ends a
        stretch nor counts. Counters are left out.
    levels_should_move : array_like, rounds x meters [each meter's unit]
        What the reference of the operating point says, not led by the readings of the run; NaN is
        not known.
    runs : array_like of int, rounds [1]
        A number for each run: from one retune to the next, whatever state and programme.
    minutes : array_like, rounds [min]
    steps, scatters : array_like, meters [each meter's unit]
        Smallest step, and one sigma within a run, behind the rounding (one that was widened to
        half a step calls for ``usual``); NaN is not known.
    betweens : array_like, meters or rounds x meters [each meter's unit]
        One sigma of the runs' levels about what is expected; where NaN, that is not used.
    usual, usual_between : array_like, meters [1]
        How often each meter repeated in its own past, within a run and from the last round of a
        run to the first of the next, see ``usual_repeats``; NaN is not known. Without the second,
        a new run of the same expected level counts as more of the one before.
    worst : float [1]
        Decimal logarithm at or below which a stretch is returned.

    Returns
    -------
    list of Stuck
        By meter and time; ``log10`` [1].

    Notes
    -----
    Two bounds of the chance, the smaller of which counts: that of a level which never moves, as
    ``log10_of_repeats`` has it, and that of ``log10_over_places``. A stretch at zero is none:
    a meter that is dead or off has flags of its own.

    Source
    ------
    Derived here.

    Example
    -------
    A flow that reads 230 L/min for two days of twenty rounds:

    >>> flow = np.full((40, 1), 230.0)
    >>> found = stuck(flow, np.full((40, 1), np.nan), np.arange(40) // 4, 60 * np.arange(40),
    ...               steps=[5.0], scatters=[3.0], betweens=[np.nan])
    >>> found[0].last, round(found[0].log10, 1)
    (39, -9.6)
    """
    rows, sizes = floats(values), floats(steps)
    ratio = ratios(sizes, floats(scatters), usual)
    held = held_readings(np.where(ratio > 0, rows, np.nan), sizes)
    held = held[is_apart(minutes)[held["row"]]].reset_index(drop=True)
    if held.empty:
        return []
    held = with_levels(held, floats(levels_should_move), floats(betweens), sizes)
    held["run"] = np.asarray(runs)[held["row"]]
    table = held.groupby("stretch").agg(
        meter=("meter", "first"), first=("row", "min"), last=("row", "max"), count=("row", "size")
    )
    meters = table["meter"].to_numpy()
    own, across = ratio[meters], ratios_behind(usual_between, ratio)[meters]
    table["log10"] = np.minimum(
        log10_of_repeats(own, table["count"]),
        log10_over_places(places_of(held), own, np.fmax(own, across)),
    )
    worth = table[table["log10"] <= worst]
    return [
        Stuck(int(meter), int(first), int(last), float(log10))
        for meter, first, last, log10 in worth[COLUMNS].to_numpy()
    ]


def usual_repeats(values: npt.ArrayLike, is_pair: npt.ArrayLike, steps: npt.ArrayLike) -> Numbers:
    """How often each meter repeated from one round to the next.

    Parameters
    ----------
    values : array_like, rounds x meters [each meter's unit]
        Of the past, in the order of time; NaN is no number.
    is_pair : array_like of bool, rounds [1]
        Which rounds count with the one before: those of the same run, state and programme; or for
        ``usual_between`` the first ones of a run.
    steps : array_like, meters [each meter's unit]

    Returns
    -------
    ndarray, meters [1]
        One repeat more than was seen is counted; NaN with fewer than FEWEST_PAIRS pairs.

    Notes
    -----
    (repeats + 1) / (pairs + 1)

    Source
    ------
    Derived here.

    Example
    -------
    >>> flow = np.tile([230.0, 230.0, 235.0], 10)[:, None]
    >>> usual_repeats(flow, np.arange(30) > 0, [5.0]).round(2).tolist()
    [0.37]
    """
    same, is_read = repeated(floats(values), floats(steps))
    pairs = is_read & np.asarray(is_pair, dtype=bool)[:, None]
    seen = pairs.sum(axis=0)
    share = ((same & pairs).sum(axis=0) + 1) / (seen + 1)
    return np.asarray(np.where(seen >= FEWEST_PAIRS, share, np.nan))


def chance_of_a_repeat(ratio: npt.ArrayLike) -> Numbers:
    """How likely two readings about one level are the same, for a scatter in steps.

    Parameters
    ----------
    ratio : array_like [1]
        Scatter over step, > 0.

    Returns
    -------
    ndarray [1]
        0 to 1, near 1 for a coarse meter.

    Notes
    -----
    Over all places of the level in its cell, two readings that lie t steps apart fall in one cell
    with the chance 1 - t. Their difference is normal with w = sqrt(2) ratio, so the chance is
    2 Phi(1 / w) - 1 - w sqrt(2 / pi) (1 - exp(-1 / (2 w^2))).

    Source
    ------
    Derived here.

    Example
    -------
    >>> chance_of_a_repeat([0.01, 0.4, 2.0]).round(2).tolist()
    [0.99, 0.57, 0.14]
    """
    width = np.sqrt(2) * np.asarray(ratio, dtype=np.float64)
    inside = 2 * ndtr(1 / width) - 1
    return np.asarray(inside + width * np.sqrt(2 / np.pi) * np.expm1(-0.5 / width**2))


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


def log10_over_places(places: pd.DataFrame, ratio: Numbers, across: Numbers) -> Numbers:
    """How likely a level that should move from place to place gives one and the same reading.

    Parameters
    ----------
    places : DataFrame
        Ordered by ``stretch``, a row each operating point in it: ``readings``, ``runs``,
        ``shift`` [steps, of the level expected against that at the anchor], ``between`` [steps,
        one sigma of a run's level], ``is_anchor`` (one a stretch).
    ratio, across : ndarray, one each stretch [1]
        Scatter within a run over step, and with that from run to run in it.

    Returns
    -------
    ndarray, one each stretch [1]
        Decimal logarithm.

    Notes
    -----
    At the anchor the level of each run is x + b: x, where the meter stands, may be anything, and b
    is the run's own, normal. The first reading of a run falls in the cell with q_run, by both
    scatters, and each of the k later ones with at most q(0). Elsewhere the level should be at
    x + shift; what lies outside the cell is z sigmas, and the place is told by
    q_run(0)^runs exp(-z^2 / 2), at its likeliest b. P is the integral over x of the product.

    What is not sure favours chance. Runs resemble those before, and a scatter about what is
    expected may come from long ago: so q_run has the smaller of ``between`` and ``across``. A
    wrong expectation is wrong at every visit: so each place has one z, with ``between``, at least
    half a step. A state may be logged wrongly: so exp(-z^2 / 2) is MISTAKEN at least.

    Source
    ------
    Derived here.

    Example
    -------
    Two places eight steps apart tell as much as MISTAKEN allows, three sigmas:

    >>> places = pd.DataFrame({"stretch": [0, 0], "readings": [3, 3], "runs": [1, 1],
    ...     "shift": [0.0, 8.0], "between": [0.5, 0.5], "is_anchor": [True, False]})
    >>> log10_over_places(places, np.array([0.2]), np.array([0.2])).round(1).tolist()
    [-2.0]
    """
    is_first = np.diff(places["stretch"], prepend=-1) != 0
    first, stretch = np.flatnonzero(is_first), np.cumsum(is_first) - 1
    own, between = ratio[stretch], places["between"].to_numpy()
    of_run = np.minimum(across[stretch], np.hypot(own, between))
    reach = 0.5 + OUT_TO * np.maximum.reduceat(of_run, first)
    level = np.outer(reach, np.linspace(-1, 1, NODES))[stretch]
    middle, runs = np.zeros((own.size, 1)), places["runs"].to_numpy()
    outside = np.maximum(np.abs(level + places["shift"].to_numpy()[:, None]) - 0.5, 0.0)
    z = outside / np.hypot(of_run, np.maximum(between, 0.5))[:, None]
    elsewhere = runs[:, None] * logs_of(middle, of_run) + np.maximum(-(z**2) / 2, np.log(MISTAKEN))
    is_anchor = places["is_anchor"].to_numpy()[:, None]
    entered = np.where(is_anchor, runs[:, None] * logs_of(level, of_run), elsewhere)
    stayed = (places["readings"].to_numpy() - runs)[:, None] * logs_of(middle, own)
    total = np.add.reduceat(entered + stayed, first)
    return np.asarray((logsumexp(total, axis=1) + np.log(2 * reach / (NODES - 1))) / np.log(10))


def in_cell(away: Numbers, ratio: Numbers) -> Numbers:
    """The chance of a reading in the cell whose middle is so many steps away."""
    return np.asarray(ndtr((away + 0.5) / ratio) - ndtr((away - 0.5) / ratio))


def logs_of(away: Numbers, ratio: Numbers) -> Numbers:
    """Natural logarithm of ``in_cell``, a ratio for each row."""
    own = np.maximum(ratio, NARROWEST)[:, None]
    return np.asarray(np.log(np.maximum(in_cell(away, own), LEAST)))


def log10_of(chance: Numbers) -> Numbers:
    return np.asarray(np.log10(np.clip(chance, LEAST, 1.0)))


def ratios(steps: Numbers, scatters: Numbers, usual: npt.ArrayLike | None) -> Numbers:
    """Scatter over step of each meter: the smaller of its own and of that behind ``usual``."""
    own = floats(np.where(steps > 0, scatters / steps, np.nan))
    return np.asarray(np.fmin(own, ratios_behind(usual, own)))


def ratios_behind(usual: npt.ArrayLike | None, like: Numbers) -> Numbers:
    """Scatter over step that makes a meter repeat as often; NaN where not known."""
    if usual is None:
        return np.full(like.shape, np.nan)
    return np.asarray(np.interp(floats(usual), USUAL[::-1], RATIOS[::-1]))


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


def held_readings(rows: Numbers, steps: Numbers) -> pd.DataFrame:
    """The readings of all stretches of FEWEST_HELD and more in which a meter stays, not at zero.

    Returns
    -------
    DataFrame
        By meter, then row: ``stretch``, ``meter``, ``row``.
    """
    meter, row = np.nonzero(~np.isnan(rows.T))
    value = rows[row, meter]
    is_other = np.diff(meter, prepend=-1) != 0
    moved = is_other | (np.abs(np.diff(value, prepend=np.nan)) > TINY * steps[meter])
    stretch = np.cumsum(moved) - 1
    is_held = (np.bincount(stretch)[stretch] >= FEWEST_HELD) & (value != 0)
    frame = pd.DataFrame({"stretch": stretch, "meter": meter, "row": row})
    return frame[is_held]


def with_levels(
    held: pd.DataFrame, levels: Numbers, betweens: Numbers, steps: Numbers
) -> pd.DataFrame:
    """``level`` and ``between`` of each reading in steps; one not known is as the one before."""
    row, meter = held["row"].to_numpy(), held["meter"].to_numpy()
    between = np.broadcast_to(betweens, levels.shape)[row, meter] / steps[meter]
    level = np.where(np.isnan(between), np.nan, levels[row, meter] / steps[meter])
    known = pd.DataFrame({"level": level, "between": np.where(np.isnan(level), np.nan, between)})
    forward = known.groupby(held["stretch"]).ffill()
    return held.join(forward.groupby(held["stretch"]).bfill().fillna(0.0))


def places_of(held: pd.DataFrame) -> pd.DataFrame:
    """The operating points of each stretch, told apart by whole steps of the level expected."""
    keyed = held.assign(place=np.rint(held["level"]))
    places = (
        keyed.groupby(["stretch", "place"])
        .agg(
            readings=("row", "size"),
            runs=("run", "nunique"),
            level=("level", "mean"),
            between=("between", "mean"),
        )
        .reset_index()
    )
    anchor = places.groupby("stretch")["readings"].idxmax()
    at_anchor = places["stretch"].map(places.loc[anchor].set_index("stretch")["level"])
    return places.assign(shift=places["level"] - at_anchor, is_anchor=places.index.isin(anchor))


def floats(values: npt.ArrayLike) -> Numbers:
    return np.asarray(values, dtype=np.float64)


RATIOS = np.geomspace(NARROWEST, 1 / NARROWEST, 500)
USUAL = chance_of_a_repeat(RATIOS)
