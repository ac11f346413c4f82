"""Symptoms as data: which signs, in what shape, each of the trade's known patterns shows. Pure.

Rows and their numbers are the station's own list of patterns; what they mean in words stands in
``health/symptom_words.py``. Signs that a row does not name should stand where they always do.
Source of the signs: common practice, no source, save where the circuit's relations give them
(efficiency, heat, what goes with the HT).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Want(StrEnum):
    """What a row says of a sign."""

    UP = "+"
    DOWN = "-"
    MOVED = "~"
    MAYBE_UP = "+?"
    MAYBE_DOWN = "-?"
    ANY = "?"
    SAME = "0"


class Shape(StrEnum):
    ANY = ""
    SUDDEN = "sudden"
    SLOW = "slow"


class Context(StrEnum):
    """What else is known of the last days, from the log."""

    ONE_AERIAL = "one-aerial"
    EVERY_AERIAL = "every-aerial"
    AFTER_WAVE_CHANGE = "after-wave-change"
    TUBES_SWAPPED = "tubes-swapped"
    TRIPS_ON_ONE_WAVE = "trips-on-one-wave"
    TRIPS_WHEN_DAMP = "trips-when-damp"
    TRIPS_AT_HT = "trips-at-ht"
    TRIPS_OFTEN = "trips-often"
    HUM = "hum"
    CARRIER_SHIFT = "carrier-shift"
    SAME_AS_BEFORE = "same-as-before"
    WHILE_WARMING = "while-warming"


Signs = Mapping[str, Want]
OWN, OTHER = "own", "other"


@dataclass(frozen=True)
class Row:
    """One pattern.

    ``signs``: by group's name what is wanted of it: 'grid', or of the part in question 'own grid'
    and of the rest 'other grid': each part of what it wants of its own is tried in turn.
    ``alike``: further ways in which it shows. ``context``: what else it goes with;
    ``is_context_needed``: nothing without it. ``weight``: how much more often than others it is
    met.
    """

    id: str
    signs: Signs
    shape: Shape = Shape.ANY
    context: Context | None = None
    is_context_needed: bool = False
    alike: tuple[Signs, ...] = ()
    is_inside: bool = False
    weight: float = 1.0
    ways: tuple[Signs, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "ways", (self.signs, *self.alike))


def said(words: str) -> Signs:
    """'anode +, own level -' as a mapping from the sign's name to what is wanted of it."""
    pairs = (one.strip().rpartition(" ") for one in words.split(","))
    return {name: Want(want) for name, _space, want in pairs}


MORE_INPUT = "ht current +?, mains power +?, steam +?, heat +?, rise +?, above raw +?"
LESS_OUTPUT = "forward -?, leg -?, steam -?, heat -?, rise -?, ht current -?, mains power -?"
OF_ANODES = "ht sum ?, efficiency ?, ht current ?, feeder ?, forward ?"

# fmt: off
ROWS: tuple[Row, ...] = (
    Row("S1", said("ht -, driver volts -?, anode -?, grid -?, bias -?, driver -?, idle -?, tone -?, "
                   "forward -, leg -?, feeder ?, steam -?, heat -?, rise -?, ht current -?, "
                   "mains power -?, mains -?, above raw -?, efficiency ?, leakage ?, dial ?, "
                   "coupling ?")),
    Row("S2", said("ht -, driver volts -?, anode -?, grid -?, bias -?, driver -?, idle -?, tone -?, "
                   "forward -?, leg -?, feeder ?, steam -?, heat -?, rise -?, ht current -?, "
                   "mains power -?, mains -?, above raw -?, efficiency ?, leakage ?, dial ?, "
                   "coupling ?"), context=Context.HUM, is_inside=True, weight=0.5),
    Row("S3", said(f"anode +, grid -?, bias -?, efficiency -, driver -?, dial ?, coupling ?, {MORE_INPUT}")),
    Row("S4", said("coupling +, anode -?, grid +?, bias +?, leg -?, feeder ?, efficiency +?, forward -?, "
                   "driver +?, heat -?, steam -?, rise -?")),
    Row("S5", said(f"coupling -, anode +?, grid -?, bias -?, leg +?, feeder ?, efficiency -?, forward +?, "
                   f"driver -?, {MORE_INPUT}"),
        alike=(said(f"anode +, grid -, bias -?, leg +, feeder ?, efficiency ?, coupling ?, forward +?, "
                    f"{MORE_INPUT}"),)),
    Row("S6", said(f"grid -, driver -, bias -?, anode -?, efficiency ?, {LESS_OUTPUT}, dial ?, coupling ?")),
    Row("S7", said("driver +, grid -?, bias -?, efficiency -?, mains power +?, dial ?, rise +?, heat +?"),
        is_inside=True),
    Row("S8", said(f"own anode apart -, own grid apart -, anode -?, grid -?, bias -?, driver -?, "
                   f"efficiency ?, coupling ?, ht sum ?, {LESS_OUTPUT}"),
        alike=(said(f"anode -, grid -, bias -?, efficiency ?, coupling ?, {LESS_OUTPUT}"),)),
    Row("S9", said("own filament current -, own anode apart -?, own grid apart -?, own tone -?"), is_inside=True),
    Row("S10", said("own filament volts -, own filament current -?, own anode apart -?, own tone -?")),
    Row("S11", said(f"own grid apart -, own anode apart +?, grid -?, bias -?, driver -?, anode +?, {MORE_INPUT}"), context=Context.TRIPS_OFTEN,
        alike=(said(f"grid -, bias -?, driver -?, anode +?, {MORE_INPUT}"),)),
    Row("S12", said(f"own grid apart -, own anode apart +?, grid -?, bias -?, driver -?, anode +?, {MORE_INPUT}"), weight=0.7),
    Row("S13", said("own dial ~"), is_inside=True),
    Row("S14", said(f"own anode apart ~, own grid apart ?, anode ?, grid ?, {OF_ANODES}"),
        context=Context.TUBES_SWAPPED, is_context_needed=True, is_inside=True),
    Row("S15", said("own anode apart ~, own grid apart ?, leg apart ~, leg ?, anode ?, grid ?, "
                    "feeder ?, efficiency ?"), is_inside=True,
        alike=(said("own grid apart ~, leg apart ~, leg ?, grid ?, feeder ?"),)),
    Row("S16", said("own leg -, other leg +, own leg apart -, feeder ?")),
    Row("S17", said("reflection dry +, reflection wet +?, leg ?, feeder ?, forward ?"),
        context=Context.ONE_AERIAL),
    Row("S18", said("reflection wet +, reflection dry 0, leg ?, feeder ?, forward ?")),
    Row("S19", said("reflection dry +, reflection wet +?, leg ?, feeder ?, forward ?"),
        context=Context.EVERY_AERIAL),
    Row("S20", said("reflection dry +, reflection wet +?, leg ?, feeder ?, forward ?"),
        shape=Shape.SUDDEN, context=Context.AFTER_WAVE_CHANGE, is_context_needed=True, weight=0.4),
    Row("S21", said("own leg -, other leg 0, own leg apart -, feeder -?")),
    Row("S22", said("efficiency +, anode ?, forward ?, ht ?, ht sum ?, feeder ?, anode apart ?")),
    Row("S23", said("ht sum ~, ht current ?, efficiency ?, anode ?, idle ?, anode apart ?, idle apart ?")),
    Row("S24", said("own flow -, own rise +, own heat ?, above raw +?"),
        alike=(said("own flow -, own rise +?, own heat ?, above raw +?"),)),
    Row("S25", said("own above raw +, rise -?, heat -?, steam ?")),
    Row("S26", said("own heat -, own rise -?, own flow ?")),
    Row("S27", said("own level -, other level -?")),
    Row("S28", said("conductivity +, leakage ?"), shape=Shape.SLOW),
    Row("S29", said("conductivity +, leakage ?"), shape=Shape.SUDDEN),
    Row("S30", said("leakage +, conductivity 0"), is_inside=True),
    Row("S31", said("own idle ~, own idle apart ~, ht current ?, ht sum ?, own tone ?, rise +?, "
                    "heat +?, mains power ?")),
    Row("S32", said("own tone -, own idle 0, other tone ?")),
    Row("S33", said("anode -?, grid -?"), context=Context.CARRIER_SHIFT, is_context_needed=True),
    Row("S34", said("anode ?"), context=Context.TRIPS_ON_ONE_WAVE, is_context_needed=True,
        is_inside=True),
    Row("S35", said("drop ?"), context=Context.TRIPS_WHEN_DAMP, is_context_needed=True),
    Row("S36", said("ht ?"), context=Context.TRIPS_AT_HT, is_context_needed=True, is_inside=True),
    Row("S37", said("filament volts -, filament current -?, mains -?, tone -?")),
    Row("S38", said("drop +, air +?"), alike=(said("air +, drop +?"),)),
    Row("S39", said("ht ?"), context=Context.SAME_AS_BEFORE, is_context_needed=True),
)
# fmt: on
