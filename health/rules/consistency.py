"""What several meters say together. Pure.

Each relation is a channel with a baseline of its own: what the meters' fixed errors make of it is
in there, and a change from it is judged.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from math import hypot
from typing import Any

import numpy as np
import numpy.typing as npt

from health.formulas.rf import output_power, reflection_ratio
from health.formulas.stage import pair_balance_points
from health.rules.channels import (
    ON_THE_AERIAL,
    Channel,
    Heeds,
    MeterFacts,
    by_programme,
    by_weather,
    heeds_of,
    raw_water,
)

Numbers = npt.NDArray[np.float64]

PAIR, HT_SUM, REFLECTION = "pair", "ht-sum", "reflection"
APPARENT, WITH_DRIVER = "apparent", "with-driver"
HEAT, FEEDER, LEAKAGE = "heat", "feeder", "leakage"
ABOVE_RAW = "above-raw"
IN_OWN_UNIT = frozenset({"", HT_SUM, ABOVE_RAW})
"""What is in the unit of its first meter: a meter by itself, and these; the others are in %."""
PAIRED = frozenset({"anode_current", "grid_current", "idle_current", "feeder_current"})
DRIVER = "driver"
SHARE_OF_RAW = 0.5
"""How much of a change of the raw water comes through a heat exchanger to what it cools: the demo
station's; another station's shares lie between 0 and 1, and what this leaves over goes into what
the channel does by itself. Common practice, no source."""


def relation_channels(meters: Sequence[MeterFacts]) -> tuple[Channel, ...]:
    """The relations that the meters of a transmitter allow."""
    by_quantity: dict[str, list[MeterFacts]] = {}
    for facts in meters:
        by_quantity.setdefault(facts.quantity, []).append(facts)
    makers = (pairs, ht_sums, reflections, efficiencies, heats, feeders, leakages, waters_above_raw)
    return tuple(
        one for make in makers for whole in make(by_quantity) for one in by_weather_and(whole)
    )


Relation = tuple[Channel, str]


def by_weather_and(relation: Relation) -> Iterator[Channel]:
    whole, moves = relation
    for one in by_programme(whole, moves, whole.step):
        yield from by_weather(one)


def relation(name: str, key: str, meters: Sequence[MeterFacts], step: float) -> Channel:
    is_on_aerial = any(facts.quantity in ON_THE_AERIAL for facts in meters)
    return Channel(
        key=key,
        meter_ids=tuple(facts.meter_id for facts in meters),
        heeds=Heeds.AERIAL if is_on_aerial else Heeds.WAVE,
        step=step,
        quantity=name,
        is_slow=any(facts.moves == "slow" for facts in meters),
        stage=meters[0].stage,
        relation=name,
    )


def slowest(meters: Iterable[MeterFacts]) -> str:
    """How the programme moves what is computed of several meters."""
    moves = {facts.moves for facts in meters}
    return next((one for one in ("slow", "fast") if one in moves), "none")


def in_percent(facts: MeterFacts) -> float:
    """A meter's step in per cent of what it usually shows."""
    return 100 * facts.step / facts.usual


ByQuantity = Mapping[str, Sequence[MeterFacts]]


def pairs(of: ByQuantity) -> Iterator[Relation]:
    """Two alike meters: the tubes of a stage, the legs of a feeder."""
    for quantity in sorted(PAIRED & set(of)):
        for first, second in combinations(of[quantity], 2):
            is_alike = first.stage == second.stage and first.error == second.error
            is_pair = bool(first.socket and second.socket) or quantity == "feeder_current"
            if is_alike and is_pair:
                step = hypot(in_percent(first), in_percent(second))
                key = f"{PAIR} {first.code}"
                yield relation(PAIR, key, (first, second), step), first.moves


def ht_sums(of: ByQuantity) -> Iterator[Relation]:
    """The total less its parts; the register says which stages it includes."""
    parts = [*of.get("anode_current", ()), *of.get("idle_current", ())]
    for total in of.get("ht_current", ()):
        own = [facts for facts in parts if facts.stage and facts.stage in total.includes]
        if own:
            yield relation(HT_SUM, HT_SUM, (total, *own), total.step), slowest((total, *own))


def reflections(of: ByQuantity) -> Iterator[Relation]:
    for reflected, forward in zip(
        of.get("reflected_power", ()), of.get("forward_power", ()), strict=False
    ):
        step = 100 * reflected.step / reflected.in_unit_of(forward.usual, forward)
        yield relation(REFLECTION, REFLECTION, (reflected, forward), step), "none"


def efficiencies(of: ByQuantity) -> Iterator[Relation]:
    """Output over the anode input of the final, and of final and driver."""
    powers = [*of.get("forward_power", ())[:1], *of.get("reflected_power", ())[:1]]
    volts, anodes = of.get("ht_voltage", ()), of.get("anode_current", ())
    finals = [facts for facts in anodes if facts.stage != DRIVER]
    if len(powers) < 2 or not volts or not finals:
        return
    own = [*powers, volts[0], *finals]
    step = in_percent(finals[0]) / np.sqrt(len(finals))
    yield relation(APPARENT, APPARENT, own, step), "none"
    driver = [facts for facts in (*of.get("anode_voltage", ()), *anodes) if facts.stage == DRIVER]
    if len(driver) == 2:
        yield relation(WITH_DRIVER, WITH_DRIVER, [*own, *driver], step), "none"


def heats(of: ByQuantity) -> Iterator[Relation]:
    """Flow and rise of one water loop; their codes begin alike."""
    for rise in of.get("temperature_rise", ()):
        for flow in of.get("water_flow", ()):
            if flow.code.rpartition("_")[0] == rise.code.rpartition("_")[0]:
                step = hypot(in_percent(rise), in_percent(flow))
                yield relation(HEAT, f"{HEAT} {rise.code}", (rise, flow), step), rise.moves


def feeders(of: ByQuantity) -> Iterator[Relation]:
    """Square of the feeder's current over the output: the impedance, while nothing changes."""
    powers = [*of.get("forward_power", ())[:1], *of.get("reflected_power", ())[:1]]
    currents = list(of.get("feeder_current", ()))
    if len(powers) == 2 and currents:
        step = 2 * in_percent(currents[0]) / np.sqrt(len(currents))
        yield relation(FEEDER, FEEDER, [*currents, *powers], step), slowest(currents)


def leakages(of: ByQuantity) -> Iterator[Relation]:
    """Leakage goes with the conductivity of the water; a hose that is fouled does not."""
    for leakage, water in zip(
        of.get("leakage_current", ()), of.get("conductivity", ()), strict=False
    ):
        step = hypot(in_percent(leakage), in_percent(water))
        yield relation(LEAKAGE, LEAKAGE, (leakage, water), step), "none"


def waters_above_raw(of: ByQuantity) -> Iterator[Relation]:
    """Each water temperature beside that of the raw water, which the weather moves."""
    waters = of.get("water_temperature", ())
    raw = raw_water(waters)
    for warm in waters:
        if raw is not None and warm is not raw:
            step = hypot(warm.step, SHARE_OF_RAW * raw.step)
            whole = relation(ABOVE_RAW, f"{ABOVE_RAW} {warm.code}", (warm, raw), step)
            yield replace(whole, heeds=heeds_of(warm)), warm.moves


def relation_values(
    name: str, table: Mapping[int, npt.NDArray[Any]], meters: Sequence[MeterFacts]
) -> Numbers:
    """A relation's value in each round; NaN where one of its meters has no number.

    Parameters
    ----------
    name : str
        One of the words above.
    table : mapping of int to array_like
        By meter id its readings of each round [each in its meter's unit].
    meters : sequence of MeterFacts
        Those of the channel, in its order.

    Returns
    -------
    ndarray
        'pair' and 'heat', 'feeder', 'leakage', efficiencies [%, or per cent of the usual value];
        'ht-sum' [A]; 'reflection' [%]; 'above-raw' [C].

    Notes
    -----
    The formulas are those of ``health.formulas``.

    Source
    ------
    Conservation of charge and of energy; common practice, no source.

    Example
    -------
    >>> facts = [MeterFacts(1, "a", "ht_current"), MeterFacts(2, "b", "anode_current")]
    >>> table = {1: np.array([27.5, 27.5]), 2: np.array([24.9, np.nan])}
    >>> relation_values(HT_SUM, table, facts).round(2).tolist()
    [2.6, nan]
    """
    columns = [np.asarray(table[facts.meter_id], dtype=np.float64) for facts in meters]
    with np.errstate(divide="ignore", invalid="ignore"):
        values = VALUES[name](columns, meters)
    return np.where(np.isfinite(values), values, np.nan)


Columns = Sequence[Numbers]
Facts = Sequence[MeterFacts]


def balance(of: Columns, _meters: Facts) -> Numbers:
    return pair_balance_points(of[0], of[1])


def total_less_parts(of: Columns, _meters: Facts) -> Numbers:
    return np.asarray(of[0] - np.sum(of[1:], axis=0))


def reflected_percent(of: Columns, meters: Facts) -> Numbers:
    reflected, forward = of
    return np.asarray(100 * reflection_ratio(meters[0].in_unit_of(forward, meters[1]), reflected))


def output(of: Columns, meters: Facts) -> Numbers:
    """Forward less reflected, in the unit of the forward meter."""
    return output_power(of[0], meters[0].in_unit_of(of[1], meters[1]))


def apparent(of: Columns, meters: Facts) -> Numbers:
    return np.asarray(100 * output(of, meters) / (of[2] * np.sum(of[3:], axis=0)))


def with_driver(of: Columns, meters: Facts) -> Numbers:
    anode_input = of[2] * np.sum(of[3:-2], axis=0) + of[-2] * of[-1]
    return np.asarray(100 * output(of, meters) / anode_input)


def product(of: Columns, meters: Facts) -> Numbers:
    return np.asarray(100 * of[0] * of[1] / (meters[0].usual * meters[1].usual))


def square_over_output(of: Columns, meters: Facts) -> Numbers:
    square = np.mean(of[:-2], axis=0) ** 2
    usual = meters[0].usual ** 2 / meters[-2].usual
    return np.asarray(100 * square / output(of[-2:], meters[-2:]) / usual)


def quotient(of: Columns, meters: Facts) -> Numbers:
    return np.asarray(100 * of[0] / of[1] / (meters[0].usual / meters[1].usual))


def above_raw(of: Columns, _meters: Facts) -> Numbers:
    return np.asarray(of[0] - SHARE_OF_RAW * of[1])


VALUES: dict[str, Callable[[Columns, Facts], Numbers]] = {
    PAIR: balance,
    HT_SUM: total_less_parts,
    REFLECTION: reflected_percent,
    APPARENT: apparent,
    WITH_DRIVER: with_driver,
    HEAT: product,
    FEEDER: square_over_output,
    LEAKAGE: quotient,
    ABOVE_RAW: above_raw,
}
