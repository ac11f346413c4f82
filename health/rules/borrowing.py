"""What a meter should read at a power that it was never read at: by the law of the tap. Pure.

With the power set by the HT tap everything goes with a power of k = sqrt(P / P_full); set by
coupling it follows another law, and the two are never mixed.
"""

from collections.abc import Mapping
from math import hypot, log, sqrt

import numpy as np

from health.rules.baselines import Baseline
from health.rules.channels import Channel
from health.rules.memory import Expectation, Memory, baselines_at

BY_TAP = "tap"
LAW_SHARE = 0.02
"""How well the law holds, one sigma as a share of the value: own choice."""


def expectation_at(memory: Memory, place: Mapping[str, str]) -> Expectation:
    """The baselines at an operating point; where there is none, that of the nearest power.

    Parameters
    ----------
    memory : Memory
    place : mapping of str to str
        The operating point's word by what of it a channel heeds.

    Returns
    -------
    Expectation
        In the channels' units; NaN where nothing can be borrowed either.

    Notes
    -----
    value = baseline (P / P_there)^(n / 2), n the quantity's exponent of k. Borrowed is from the
    same wave and antenna alone, the scatter between runs with LAW_SHARE of the value on top.

    Source
    ------
    The station's relations of power set by the tap; common practice, no source.

    Example
    -------
    >>> from health.rules.channels import Heeds
    >>> current = Channel("anode_current", (1,), Heeds.WAVE, 0.2, tap_exponent=1)
    >>> known = Baseline(12.4, 0.1, 0.08, 8, 40, 0, is_last=True)
    >>> memory = Memory((current,), {("anode_current", "6105 A1 200 tap"): known})
    >>> expectation_at(memory, {Heeds.WAVE: "6105 A1 80 tap"}).centre.round(2).tolist()
    [7.84]
    >>> expectation_at(memory, {Heeds.WAVE: "6105 A1 80 coupling"}).centre.tolist()
    [nan]
    """
    own = baselines_at(memory, place)
    key = ("by the law", *place.values())
    if key not in memory.found:
        memory.found[key] = with_borrowed(memory, place, own)
    return memory.found[key]


def with_borrowed(memory: Memory, place: Mapping[str, str], own: Expectation) -> Expectation:
    """``own`` with what other powers say of the channels that have no baseline there."""
    wanted = {
        (one.key, where): (column, float(power_kw))
        for column, one in enumerate(memory.channels)
        for where, power_kw in [by_tap(place[one.heeds])]
        if power_kw and one.tap_exponent is not None and np.isnan(own.centre[column])
    }
    table = np.array([own.centre, own.between, own.within])
    away = np.full(len(memory.channels), np.inf)
    for (key, there), known in memory.baselines.items():
        where, power_kw = by_tap(there)
        if power_kw and (key, where) in wanted:
            column, wanted_kw = wanted[key, where]
            ratio = wanted_kw / float(power_kw)
            if abs(log(ratio)) < away[column]:
                away[column] = abs(log(ratio))
                table[:, column] = scaled(known, ratio, memory.channels[column])
    return Expectation(*table)


def by_tap(place: str) -> tuple[str, str]:
    """Where a place is, and its power in kW; ('', '') for one whose power is not set by the tap."""
    *where, power_kw, set_by = ["", *place.split(" ")]
    return (" ".join(where), power_kw) if set_by == BY_TAP else ("", "")


def scaled(known: Baseline, ratio: float, channel: Channel) -> tuple[float, float, float]:
    """Centre and both scatters of a baseline at another power."""
    scale = sqrt(ratio) ** (channel.tap_exponent or 0)
    centre = known.centre * scale
    between = hypot(known.between * scale, LAW_SHARE * centre)
    return centre, between, max(known.within * scale, channel.step / 2)
