"""How far meters that must agree may differ: the instruments' combined error. Pure.

A relation's own baseline tells a change; these tests tell what was never right, from the first
round on.
"""

from collections.abc import Callable, Mapping, Sequence
from math import hypot, nan, sqrt

import numpy as np
import numpy.typing as npt

from health.formulas.stage import pair_balance_points
from health.rules.channels import Channel, MeterFacts, Programme
from health.rules.consistency import FEEDER, HT_SUM, PAIR, output, total_less_parts

Numbers = npt.NDArray[np.float64]
Columns = Sequence[Numbers]
Facts = Sequence[MeterFacts]

COVERED = sqrt(3)
"""An error anywhere within its bound has a sigma of bound / sqrt(3); three of those sigmas."""
WIDEST_PAIR_POINTS, WIDEST_PAIR_STEPS = 15.0, 2.5
"""Of the balance of a pair: common practice, no source."""
MOST_REFLECTED = 0.0083
"""Reflected over forward power at an SWR of 1.2: above it the feeder's current says little."""


def differences(
    table: Mapping[int, Numbers],
    meters: Mapping[int, MeterFacts],
    channels: Sequence[Channel],
) -> tuple[Numbers, Numbers]:
    """What the meters of each relation differ by, and what their errors allow.

    Parameters
    ----------
    table : mapping of int to ndarray
        By meter id its readings of each round [each in its meter's unit].
    meters : mapping of int to MeterFacts
    channels : sequence of Channel

    Returns
    -------
    (ndarray, ndarray)
        Rounds x channels: 'pair' [points], 'ht-sum' [A], 'feeder' [% of the output]. NaN where a
        meter has no number, and for channels without such a test.

    Notes
    -----
    Allowed is sqrt(3) times the root of the sum of the squares of the instruments' bounds of
    error, class times full scale: three sigmas of errors that may lie anywhere within them; a
    meter without a class is not held against anything. A pair may differ by WIDEST_PAIR_POINTS,
    or WIDEST_PAIR_STEPS steps where those are more. The power by the feeder's current is compared
    on carrier alone, and below MOST_REFLECTED.

    Source
    ------
    Kirchhoff's current law and I^2 Z; rectangular errors as in JCGM 100:2008, 4.3.7 (from memory).

    Example
    -------
    >>> total = MeterFacts(1, "total", "ht_current", includes="final", error=0.9)
    >>> part = MeterFacts(2, "part", "anode_current", stage="final", error=0.3)
    >>> channel = Channel("ht-sum", (1, 2), "wave", 0.5, relation=HT_SUM)
    >>> table = {1: np.array([27.5]), 2: np.array([24.9])}
    >>> found = differences(table, {1: total, 2: part}, [channel])
    >>> [float(one.round(2)[0, 0]) for one in found]
    [2.6, 1.64]
    """
    rounds = next((values.size for values in table.values()), 0)
    nothing = np.full((rounds, len(channels)), np.nan)
    found, allowed = nothing, nothing.copy()
    for column, one in enumerate(channels):
        if one.relation in TESTS and one.programme != Programme.ON:
            own = [meters[key] for key in one.meter_ids]
            values = [table[key] for key in one.meter_ids]
            with np.errstate(divide="ignore", invalid="ignore"):
                found[:, column], allowed[:, column] = TESTS[one.relation](values, own)
    return found, allowed


def pair(of: Columns, meters: Facts) -> tuple[Numbers, Numbers]:
    steps = 100 * WIDEST_PAIR_STEPS * meters[0].step / ((of[0] + of[1]) / 2)
    return pair_balance_points(of[0], of[1]), np.maximum(WIDEST_PAIR_POINTS, steps)


def ht_sum(of: Columns, meters: Facts) -> tuple[Numbers, Numbers]:
    error = COVERED * hypot(*(facts.error or nan for facts in meters))
    return total_less_parts(of, meters), np.full(of[0].shape, error)


def feeder(of: Columns, meters: Facts) -> tuple[Numbers, Numbers]:
    """The mean of I^2 Z less the output; NaN where the register does not know an impedance."""
    forward, reflected = meters[-2:]
    powers = [
        current**2 * facts.line_ohm / forward.unit_w
        for current, facts in zip(of[:-2], meters[:-2], strict=True)
    ]
    errors = [
        2 * power / current * (facts.error or nan) / len(powers)
        for power, current, facts in zip(powers, of[:-2], meters[:-2], strict=True)
    ]
    given = output(of[-2:], meters[-2:])
    of_given = hypot(forward.error or nan, forward.in_unit_of(reflected.error or nan, reflected))
    allowed = COVERED * np.sqrt(np.sum(np.square(errors), axis=0) + of_given**2)
    percent = 100 * (np.mean(powers, axis=0) - given) / given
    is_low = forward.in_unit_of(of[-1], reflected) <= MOST_REFLECTED * of[-2]
    return np.where(is_low, percent, np.nan), 100 * allowed / given


TESTS: dict[str, Callable[[Columns, Facts], tuple[Numbers, Numbers]]] = {
    PAIR: pair,
    HT_SUM: ht_sum,
    FEEDER: feeder,
}
