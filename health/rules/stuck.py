"""A meter that shows one value for longer than chance makes likely. Pure.

A coarse meter repeats by itself, so what counts is how unlikely all the repeats are together, and
that the level should have moved with wave and power.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import logsumexp

from health.rules.repeats import (
    NODES,
    OUT_TO,
    TINY,
    Numbers,
    floats,
    in_steps,
    is_apart,
    log10_of_repeats,
    logs_of,
)

FEWEST_HELD = 6
"""Readings of a stretch: common practice, no source."""
STUCK_LOG10 = -6.0
"""With fifty meters of 120 rounds a week some 0.005 notes a week, were the bound the chance
itself."""
MISTAKEN = 0.01
"""Chance that what is expected at an operating point is wrong altogether: own choice."""
COLUMNS = ["meter", "first", "last", "log10"]


@dataclass(frozen=True)
class Stuck:
    """Column ``meter`` shows one value in rows ``first`` to ``last``."""

    meter: int
    first: int
    last: int
    log10: float


def stuck(
    values: npt.ArrayLike,
    levels_should_move: npt.ArrayLike,
    runs: npt.ArrayLike,
    minutes: npt.ArrayLike,
    *,
    steps: npt.ArrayLike,
    scatters: npt.ArrayLike,
    betweens: npt.ArrayLike,
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
        Smallest step, and one sigma within a run, behind the rounding; NaN is not known.
    betweens : array_like, meters or rounds x meters [each meter's unit]
        One sigma of the runs' levels about what is expected; where NaN, that is not used.
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
    ratio = in_steps(floats(scatters), sizes)
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
    own = ratio[meters]
    table["log10"] = np.minimum(
        log10_of_repeats(own, table["count"]), log10_over_places(places_of(held), own)
    )
    worth = table[table["log10"] <= worst]
    return [
        Stuck(int(meter), int(first), int(last), float(log10))
        for meter, first, last, log10 in worth[COLUMNS].to_numpy()
    ]


def log10_over_places(places: pd.DataFrame, ratio: Numbers) -> Numbers:
    """How likely a level that should move from place to place gives one and the same reading.

    Parameters
    ----------
    places : DataFrame
        Ordered by ``stretch``, a row each operating point in it: ``readings``, ``runs``,
        ``shift`` [steps, of the level expected against that at the anchor], ``between`` [steps,
        one sigma of a run's level], ``is_anchor`` (one a stretch).
    ratio : ndarray, one each stretch [1]
        Scatter within a run over step.

    Returns
    -------
    ndarray, one each stretch [1]
        Decimal logarithm.

    Notes
    -----
    At the anchor the level x, where the meter stands, may be anything: the first reading of a run
    falls in the cell with q(x), and each later one, at the run's own level, with at most q(0).
    Elsewhere the level should be at x + shift; what lies outside the cell is z sigmas, and the
    place is told by q(0)^readings exp(-z^2 / 2). P is the integral over x of the product.

    What is not sure favours chance. Runs resemble those before: so a new run is as likely to
    repeat as a later reading. A wrong expectation is wrong at every visit: so each place has one
    z, with ``between``, at least half a step. A state may be logged wrongly: so exp(-z^2 / 2) is
    MISTAKEN at least.

    Source
    ------
    Derived here.

    Example
    -------
    Two places eight steps apart tell as much as MISTAKEN allows, three sigmas:

    >>> places = pd.DataFrame({"stretch": [0, 0], "readings": [3, 3], "runs": [1, 1],
    ...     "shift": [0.0, 8.0], "between": [0.5, 0.5], "is_anchor": [True, False]})
    >>> log10_over_places(places, np.array([0.2])).round(1).tolist()
    [-2.0]
    """
    is_first = np.diff(places["stretch"], prepend=-1) != 0
    first, stretch = np.flatnonzero(is_first), np.cumsum(is_first) - 1
    own, between = ratio[stretch], places["between"].to_numpy()
    reach = 0.5 + OUT_TO * ratio
    level = np.outer(reach, np.linspace(-1, 1, NODES))[stretch]
    middle, runs = np.zeros((own.size, 1)), places["runs"].to_numpy()
    outside = np.maximum(np.abs(level + places["shift"].to_numpy()[:, None]) - 0.5, 0.0)
    z = outside / np.hypot(own, np.maximum(between, 0.5))[:, None]
    elsewhere = runs[:, None] * logs_of(middle, own) + np.maximum(-(z**2) / 2, np.log(MISTAKEN))
    is_anchor = places["is_anchor"].to_numpy()[:, None]
    entered = np.where(is_anchor, runs[:, None] * logs_of(level, own), elsewhere)
    stayed = (places["readings"].to_numpy() - runs)[:, None] * logs_of(middle, own)
    total = np.add.reduceat(entered + stayed, first)
    return np.asarray((logsumexp(total, axis=1) + np.log(2 * reach / (NODES - 1))) / np.log(10))


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
