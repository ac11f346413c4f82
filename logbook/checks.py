"""What each kind of test, measurement or look round asks for, and how often it falls due. Pure.

The intervals are common practice, no source; the local rules decide. The frequency tolerance of
10 Hz for short-wave broadcasting is ITU Radio Regulations Appendix 2 (from memory), and a setting
of each transmitter.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.models.check import Topic

GOOD, NOT_GOOD = "good", "not-good"
RESULTS = ((GOOD, gettext_lazy("good")), (NOT_GOOD, gettext_lazy("not good")))
WEATHERS = (
    ("dry", gettext_lazy("dry")),
    ("rain", gettext_lazy("rain")),
    ("mist", gettext_lazy("mist or fog")),
    ("snow", gettext_lazy("wet snow")),
    ("ice", gettext_lazy("ice or rime")),
    ("storm", gettext_lazy("thunderstorm")),
    ("wind", gettext_lazy("strong wind")),
)
MEASURED = (
    ("performance", gettext_lazy("programme performance")),
    ("spurious", gettext_lazy("spurious and harmonic radiation")),
    ("frequency", gettext_lazy("frequency")),
    ("exposure", gettext_lazy("RF exposure")),
)

NO_SIGN = "none"
SIGNS = (
    (NO_SIGN, gettext_lazy("none")),
    ("distortion", gettext_lazy("distortion")),
    ("grid", gettext_lazy("grid current")),
    ("power", gettext_lazy("power")),
)
MEASURED_AT = (
    ("tube-rms", gettext_lazy("true RMS at the tube")),
    ("panel", gettext_lazy("the panel meter")),
)


@dataclass(frozen=True)
class Fact:
    """One thing that a check says. ``kind``: number, text, day, instant or choice."""

    name: str
    label: Any
    kind: str = "text"
    unit: str = ""
    is_needed: bool = False
    choices: tuple[tuple[str, Any], ...] = ()


@dataclass(frozen=True)
class Plan:
    """``due_days`` is how often it is done, 0 for 'as it comes'.

    ``is_inside``: it goes inside the transmitter, so the page shows the cautions.
    """

    topic: Topic
    facts: tuple[Fact, ...]
    is_of_station: bool = False
    due_days: int = 0
    hint: Any = ""
    is_inside: bool = False


def number(name: str, label: Any, unit: str = "", *, is_needed: bool = False) -> Fact:
    return Fact(name, label, "number", unit, is_needed)


RESULT = Fact("result", gettext_lazy("Result"), "choice", is_needed=True, choices=RESULTS)

PLANS: dict[str, Plan] = {
    plan.topic: plan
    for plan in (
        Plan(
            Topic.LOAD_TEST,
            (
                number("power_kw", gettext_lazy("Power into the load"), "kW", is_needed=True),
                number("length_min", gettext_lazy("How long"), "min"),
                RESULT,
            ),
            due_days=7,
            hint=gettext_lazy(
                "Write the state 'test into load' as well: hours run, but it is no service, and "
                "limits of feeder and antenna do not hold."
            ),
        ),
        Plan(
            Topic.TONE_TEST,
            (
                number("tone_hz", gettext_lazy("Tone"), "Hz", is_needed=True),
                number("depth_percent", gettext_lazy("Modulation depth"), "%", is_needed=True),
                number("distortion_percent", gettext_lazy("Distortion"), "%"),
                number("carrier_shift_percent", gettext_lazy("Carrier shift, down is -"), "%"),
                number("hum_change_db", gettext_lazy("Hum, above the test before"), "dB"),
                RESULT,
            ),
            due_days=7,
        ),
        Plan(
            Topic.FILAMENT_STEP,
            (
                Fact("socket", gettext_lazy("Socket"), "choice", is_needed=True),
                number("volts_v", gettext_lazy("Filament before"), "V", is_needed=True),
                number("stepped_v", gettext_lazy("Filament lowered to"), "V", is_needed=True),
                number("length_min", gettext_lazy("How long"), "min", is_needed=True),
                number("anode_a", gettext_lazy("Anode current before"), "A"),
                number("anode_stepped_a", gettext_lazy("Anode current, lowered"), "A"),
                number("grid_a", gettext_lazy("Grid current before"), "A"),
                number("grid_stepped_a", gettext_lazy("Grid current, lowered"), "A"),
                number("power_kw", gettext_lazy("Power before"), "kW"),
                number("power_stepped_kw", gettext_lazy("Power, lowered"), "kW"),
            ),
            hint=gettext_lazy(
                "5 % down for two or three minutes, never under the maker's minimum; then back. "
                "Every 500 to 1000 filament hours."
            ),
        ),
        Plan(
            Topic.FILAMENT_SETTING,
            (
                Fact("socket", gettext_lazy("Socket"), "choice", is_needed=True),
                number("found_v", gettext_lazy("Filament as found"), "V", is_needed=True),
                number("left_v", gettext_lazy("Filament as left"), "V", is_needed=True),
                Fact(
                    "measured",
                    gettext_lazy("Measured by"),
                    "choice",
                    is_needed=True,
                    choices=MEASURED_AT,
                ),
                Fact(
                    "sign",
                    gettext_lazy("Sign of too little, as left"),
                    "choice",
                    is_needed=True,
                    choices=SIGNS,
                ),
                number("grid_a", gettext_lazy("Grid current as found"), "A"),
                number("grid_stepped_a", gettext_lazy("Grid current as left"), "A"),
                number("power_kw", gettext_lazy("Power as found"), "kW"),
                number("power_stepped_kw", gettext_lazy("Power as left"), "kW"),
            ),
            is_inside=True,
            hint=gettext_lazy(
                "One step is 1 to 2 %, measured true RMS at the tube, not before some 200 hours "
                "at the rated voltage, and never under the maker's minimum. At the first sign "
                "(distortion, grid current, power) back up a little. Nothing changed: write the "
                "same voltage twice; that is the check of every three months and after each "
                "change of the mains."
            ),
        ),
        Plan(
            Topic.FREQUENCY,
            (
                number("offset_hz", gettext_lazy("Offset, with its sign"), "Hz", is_needed=True),
                number("frequency_khz", gettext_lazy("Wave"), "kHz", is_needed=True),
                Fact("instrument", gettext_lazy("Measured with")),
            ),
            due_days=7,
        ),
        Plan(
            Topic.WATER,
            (
                number("conductivity_us_cm", gettext_lazy("Conductivity at 25 °C"), "uS/cm"),
                number("resistivity_mohm_cm", gettext_lazy("or resistivity"), "Mohm.cm"),
                number("temperature_c", gettext_lazy("Water temperature"), "°C"),
                number("leakage_ma", gettext_lazy("Leakage current"), "mA"),
                number("level_mm", gettext_lazy("Level"), "mm"),
                number("filter_kpa", gettext_lazy("Pressure drop of the filter"), "kPa"),
            ),
            due_days=7,
        ),
        Plan(
            Topic.MAKE_UP,
            (
                number("litres", gettext_lazy("Water put in"), "L", is_needed=True),
                Fact("source", gettext_lazy("Where from")),
            ),
        ),
        Plan(
            Topic.RESIN,
            (
                Fact("bed", gettext_lazy("Which bed"), is_needed=True),
                number("passed_m3", gettext_lazy("Water through the old one"), "m3"),
                number("volume_l", gettext_lazy("New resin"), "L"),
            ),
        ),
        Plan(
            Topic.MEASUREMENT,
            (
                Fact(
                    "what",
                    gettext_lazy("What was measured"),
                    "choice",
                    is_needed=True,
                    choices=MEASURED,
                ),
                Fact("instrument", gettext_lazy("Instrument"), is_needed=True),
                Fact("result", gettext_lazy("Result, with its unit"), is_needed=True),
                Fact("due", gettext_lazy("Due again on"), "day", is_needed=True),
                Fact("filed", gettext_lazy("Where the record is filed")),
            ),
        ),
        Plan(
            Topic.COIL_WORK,
            (
                Fact("coil_set", gettext_lazy("Coil set"), "choice", is_needed=True),
                Fact("done", gettext_lazy("What was done"), is_needed=True),
            ),
            is_inside=True,
            hint=gettext_lazy(
                "Cleaned, repaired or exchanged: on its waves the meters may stand elsewhere from "
                "now on, and what is expected there is learned anew."
            ),
        ),
        Plan(
            Topic.ANTENNA_WORK,
            (
                Fact("antenna", gettext_lazy("Antenna"), "choice", is_needed=True),
                Fact("done", gettext_lazy("What was done"), is_needed=True),
            ),
            is_of_station=True,
            is_inside=True,
            hint=gettext_lazy(
                "Antenna, feeder or matching: on its waves the meters may stand elsewhere from now "
                "on, and what is expected there is learned anew. Work on a mast: its antennas off "
                "and earthed, a permit, a second person."
            ),
        ),
        Plan(
            Topic.WEATHER,
            (
                Fact("code", gettext_lazy("Weather"), "choice", is_needed=True, choices=WEATHERS),
                number("temperature_c", gettext_lazy("Outside temperature"), "°C"),
            ),
            is_of_station=True,
        ),
        Plan(
            Topic.TOWER_LIGHTS,
            (
                RESULT,
                Fact("light", gettext_lazy("Which light failed, on which mast")),
                Fact("told", gettext_lazy("Who was told")),
                Fact("told_at", gettext_lazy("told at, UTC"), "instant"),
            ),
            is_of_station=True,
            due_days=1,
            hint=gettext_lazy(
                "A failed light is told to the aviation authority by the local rules, at once; it "
                "stands open here until its repair is written."
            ),
        ),
        Plan(
            Topic.TOWER_REPAIR,
            (
                Fact("done", gettext_lazy("What was repaired"), is_needed=True),
                Fact("told", gettext_lazy("Who was told")),
            ),
            is_of_station=True,
            is_inside=True,
            hint=gettext_lazy(
                "Work on a mast: its antennas off and earthed, a permit, a second person."
            ),
        ),
    )
}


def fact_words(topic: str, facts: Mapping[str, Any]) -> list[str]:
    """'Power into the load 100 kW', 'Result good': each fact that was said, as the page asks it."""
    plan = PLANS.get(topic)
    if plan is None:
        return [f"{name} {value}" for name, value in sorted(facts.items())]
    said = [(fact, facts[fact.name]) for fact in plan.facts if fact.name in facts]
    return [
        _("%(label)s %(value)s") % {"label": fact.label, "value": value_words(fact, value)}
        for fact, value in said
    ]


def value_words(fact: Fact, value: Any) -> str:
    if fact.kind == "number":
        return f"{value:g} {fact.unit}".strip()
    return chosen(fact.choices, value)


def chosen(choices: Sequence[tuple[str, Any]], value: Any) -> str:
    """The words of a choice; what is none stands as it was written."""
    return str(dict(choices).get(value, value))


FALLS = {
    "anode": ("anode_a", "anode_stepped_a"),
    "grid": ("grid_a", "grid_stepped_a"),
    "power": ("power_kw", "power_stepped_kw"),
}


def falls(facts: Mapping[str, Any]) -> dict[str, float]:
    """By how many per cent each quantity fell when the filament was lowered.

    Example
    -------
    >>> falls({"anode_a": 12.4, "anode_stepped_a": 11.78, "grid_a": 1.14})
    {'anode': 5.0}
    """
    read = {name: (facts.get(before), facts.get(after)) for name, (before, after) in FALLS.items()}
    return {
        name: round(100 * (before - after) / before, 1)
        for name, (before, after) in read.items()
        if before and after is not None
    }
