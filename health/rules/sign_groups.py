"""Of which part of the plant each channel speaks: the groups that signs are made of. Pure.

A group is named, and has a part: the tube, leg, loop or dial in question, '' for the whole.
"""

from collections.abc import Iterator, Mapping, Sequence

from health.rules.channels import Channel, MeterFacts, Programme, Weather
from health.rules.consistency import (
    ABOVE_RAW,
    APPARENT,
    DRIVER,
    FEEDER,
    HEAT,
    HT_SUM,
    LEAKAGE,
    PAIR,
    REFLECTION,
    WITH_DRIVER,
)

Group = tuple[str, str]

BY_QUANTITY = {
    "ht_voltage": "ht",
    "ht_current": "ht current",
    "grid_current": "grid",
    "screen_current": "grid",
    "grid_bias": "bias",
    "forward_power": "forward",
    "steam_rate": "steam",
    "conductivity": "conductivity",
    "coupling_dial": "coupling",
    "mains_voltage": "mains",
    "mains_power": "mains power",
    "pressure_drop": "drop",
}
"""Groups of the whole transmitter: the mean of all their meters."""
BY_PART = {
    "idle_current": "idle",
    "tone_current": "tone",
    "filament_voltage": "filament volts",
    "filament_current": "filament current",
    "feeder_current": "leg",
    "water_level": "level",
    "water_flow": "flow",
    "temperature_rise": "rise",
    "dial": "dial",
}
"""Groups of which each tube, leg, loop or dial is told apart."""
BY_RELATION = {
    HT_SUM: "ht sum",
    APPARENT: "efficiency",
    WITH_DRIVER: "efficiency",
    FEEDER: "feeder",
    LEAKAGE: "leakage",
}
APART = {
    "anode_current": "anode apart",
    "grid_current": "grid apart",
    "idle_current": "idle apart",
    "feeder_current": "leg apart",
}
AIR = "air"
REGIONS = {
    sign: region
    for region, signs in {
        "water": ("flow", "rise", "heat", "above raw", "steam", "level"),
        "air": (AIR, "drop"),
        "purity": ("conductivity", "leakage"),
        "final": (
            *("anode", "grid", "bias", "anode apart", "grid apart"),
            *("efficiency", "coupling", "dial"),
        ),
        "driver": ("driver", "driver volts"),
        "output": (
            *("forward", "leg", "leg apart", "feeder"),
            *(f"reflection {weather}" for weather in (Weather.DRY, Weather.WET)),
        ),
        "supply": ("ht", "mains", "mains power", "ht current", "ht sum"),
        "filament": ("filament volts", "filament current"),
        "modulator": ("idle", "idle apart", "tone"),
    }.items()
    for sign in signs
}
"""By sign the region of the plant, in which one disturbance moves several signs: own choice."""


def groups_of(channel: Channel, meters: Mapping[int, MeterFacts]) -> Iterator[tuple[Group, float]]:
    """The groups that a channel speaks of, and its sense in each; none for what the weather moves
    by itself; of what hangs on the aerial nothing in rain but the reflection, of modulators nothing
    with programme."""
    own = [meters[key] for key in channel.meter_ids]
    if channel.programme == Programme.ON and own[0].quantity == "idle_current":
        return
    if channel.relation == REFLECTION:
        yield (f"reflection {channel.weather}", ""), 1.0
    elif channel.weather == Weather.WET or not (channel.is_judged and channel.is_steady):
        return
    elif channel.relation:
        yield from of_relation(channel, own)
    else:
        yield from of_meter(own[0], meters)


def of_relation(channel: Channel, own: Sequence[MeterFacts]) -> Iterator[tuple[Group, float]]:
    if channel.relation == PAIR:
        for facts, sense in zip(own, (1.0, -1.0), strict=True):
            yield (APART[facts.quantity], part_of(facts)), sense
    elif channel.relation == HEAT:
        yield ("heat", loop_of(own[0])), 1.0
    elif channel.relation == ABOVE_RAW:
        yield ("above raw", loop_of(own[0])), 1.0
    else:
        yield (BY_RELATION[channel.relation], ""), 1.0


def of_meter(facts: MeterFacts, meters: Mapping[int, MeterFacts]) -> Iterator[tuple[Group, float]]:
    is_driver = facts.stage == DRIVER
    if facts.quantity == "anode_current":
        yield ("driver" if is_driver else "anode", ""), 1.0
    elif facts.quantity == "anode_voltage":
        yield ("driver volts" if is_driver else "ht", ""), 1.0
    elif facts.quantity == "temperature_rise" and not has_flow(facts, meters):
        yield (AIR, ""), 1.0
    elif facts.quantity in BY_QUANTITY:
        yield (BY_QUANTITY[facts.quantity], ""), 1.0
    elif facts.quantity in BY_PART:
        yield (BY_PART[facts.quantity], part_of(facts)), 1.0


def part_of(facts: MeterFacts) -> str:
    """The tube by its socket; else what the code names before the quantity."""
    return facts.socket or loop_of(facts)


def loop_of(facts: MeterFacts) -> str:
    """Meters of one loop, leg or dial have codes that begin alike."""
    return facts.code.rpartition("_")[0]


def has_flow(rise: MeterFacts, meters: Mapping[int, MeterFacts]) -> bool:
    """Whether the flow beside a rise is metered: what cools without is air."""
    flows = (one for one in meters.values() if one.quantity == "water_flow")
    return any(loop_of(one) == loop_of(rise) for one in flows)
