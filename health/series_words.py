"""What each series looks at and how it is judged: a meter, or several together, in words."""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from health.rules import consistency
from health.rules.days import DEPARTURE, SHIFT


@dataclass(frozen=True)
class Relation:
    """What several meters say together; ``consistent`` is what a change of it may come from."""

    name: str
    looks_at: str
    consistent: str
    blind: str
    formulas: tuple[str, ...] = ()


@dataclass(frozen=True)
class Kind:
    """How a series is judged by its baseline."""

    name: str
    decides: str
    valid: str
    blind: str


METER = Relation(
    name=_("one meter"),
    looks_at=_(
        "Each meter by itself at its operating point: wave, antenna and power as far as they move "
        "it; apart with programme and on carrier where the programme moves it, in dry and in wet "
        "weather where it hangs on the aerial."
    ),
    consistent=_(
        "The plant changed, the meter or its range did, or the operating point is another one "
        "than the log says."
    ),
    blind=_("One meter alone does not tell a change of the plant from a fault of the meter."),
)
RELATIONS = {
    "": METER,
    consistency.PAIR: Relation(
        name=_("balance of a pair"),
        looks_at=_(
            "Two alike meters read in one round: the tubes of a stage, the legs of a feeder. "
            "The first less the second, in per cent of their mean."
        ),
        consistent=_("One of the two changed, or one of the two meters did."),
        blind=_("What changes both by the same part leaves the balance as it was."),
        formulas=("pair_balance_points",),
    ),
    consistency.HT_SUM: Relation(
        name=_("HT current and its parts"),
        looks_at=_(
            "The total HT current less the currents of the stages that it includes according to "
            "the register, read in one round."
        ),
        consistent=_("A current took a way that no meter shows, or one of the meters changed."),
        blind=_("Small currents: the errors of all the meters add up in the rest."),
    ),
    consistency.REFLECTION: Relation(
        name=_("reflected over forward power"),
        looks_at=_("Reflected over forward power of one round, apart in dry and in wet weather."),
        consistent=_("Feeder, aerial or matching changed, or one of the two power meters did."),
        blind=_(
            "A meter near the bottom of its scale says little; the phase of the reflection is "
            "not measured, and without it not where it comes from."
        ),
        formulas=("reflection_ratio", "swr", "output_power"),
    ),
    consistency.APPARENT: Relation(
        name=_("apparent efficiency"),
        looks_at=_(
            "Output power over the anode input of the final (HT voltage times anode currents), "
            "all read in one round."
        ),
        consistent=_(
            "Tubes, tuning, output circuit or load changed, or one of the meters did: power, "
            "voltage or current."
        ),
        blind=_(
            "The drive adds to the output and is not in the input: a change of drive moves it too."
        ),
        formulas=("apparent_efficiency", "output_power"),
    ),
    consistency.WITH_DRIVER: Relation(
        name=_("efficiency with the driver"),
        looks_at=_(
            "Output power over the anode inputs of final and driver, all read in one round."
        ),
        consistent=_(
            "Tubes, tuning, output circuit, drive or load changed, or one of the meters did."
        ),
        blind=_("Seven or more meters go into it: it does not tell which of them moved."),
        formulas=("efficiency_with_driver", "output_power"),
    ),
    consistency.HEAT: Relation(
        name=_("heat in the water"),
        looks_at=_(
            "Water flow times temperature rise of one loop, in per cent of its usual value: the "
            "heat that the water carries away."
        ),
        consistent=_("The dissipation changed, or the flow meter or a thermometer did."),
        blind=_(
            "Water is slow: of the first minutes after a change it says nothing. Heat that goes "
            "into the air is not in it."
        ),
        formulas=("heat_in_water_kw",),
    ),
    consistency.FEEDER: Relation(
        name=_("feeder current and output"),
        looks_at=_(
            "Square of the mean feeder current over output power, in per cent of its usual "
            "value: a conductance of the line where the meters hang."
        ),
        consistent=_("The load of the feeder changed, or a feeder or power meter did."),
        blind=_("One place on the line does not tell a turn of the phase from a change of size."),
        formulas=("highest_current_a", "lowest_current_a", "output_power"),
    ),
    consistency.LEAKAGE: Relation(
        name=_("leakage and conductivity"),
        looks_at=_(
            "Leakage current of the water over its conductivity, in per cent of the usual value."
        ),
        consistent=_(
            "The water's own path no longer explains the leakage: hoses, their fouling, or one "
            "of the two meters changed."
        ),
        blind=_("Both are small and coarse: one step of a meter is a large part of the value."),
        formulas=("leakage_current_ma",),
    ),
    consistency.ABOVE_RAW: Relation(
        name=_("water above the raw water"),
        looks_at=_(
            "A water temperature less half of the temperature of the raw water that cools it: "
            "about what the weather moves is taken out."
        ),
        consistent=_(
            "The heat changed, the exchanger is fouled, a flow is low, or one of the thermometers "
            "changed."
        ),
        blind=_(
            "The share of one half is an estimate for every exchanger: a season may leave a part "
            "of itself behind."
        ),
    ),
}

KINDS = {
    DEPARTURE: Kind(
        name=_("departure"),
        decides=_(
            "(value - baseline) / sigma, from where the series usually stands and from where it "
            "stood of late, both beyond the bound, on the same side; read twice, or twice in a row "
            "within a day. It ends below 0.6 of the bound."
        ),
        valid=_(
            "From the first baseline on: four runs and eight levels at the operating point, in a "
            "week at least. After eight runs, twenty levels and four weeks the baseline is learned "
            "for the last time and left alone; a changed tube or instrument, or work on the coil "
            "set or the antenna, begins it anew. Where a series usually stands beside its baseline "
            "is known from all days up to two months ago. Rounds in which all that goes with the "
            "power stands at one ratio are asked about and not judged; one that found the set "
            "tripped says nothing of its heat and its mains power. Temperatures that the weather "
            "moves are not judged by themselves but beside the raw water."
        ),
        blind=_(
            "One far reading that is not repeated. What was already so when the baseline was "
            "learned. What moves by less than the bound: see the shift."
        ),
    ),
    SHIFT: Kind(
        name=_("shift"),
        decides=_(
            "Mean of (level - baseline) / sigma, from where the series usually stands, over the "
            "last 3 days, the newest counted three times and the one before it twice; 21 days for "
            "what is not read in each round; at or beyond the bound. Of conductivity, which climbs "
            "by itself until the resin is changed, the rise within the last 14 days. It ends below "
            "0.6 of the bound. Judged when a day has ended."
        ),
        valid=_(
            "From three levels on within those days; the bound is wider where fewer than three "
            "runs speak, wider where the series wanders by itself, as it did up to two months "
            "ago, or goes with the season as the aerial does, and narrower the longer it is known "
            "to be quiet."
        ),
        blind=_(
            "What comes and goes within a day. What was already so when the baseline was "
            "learned. A drift so slow that two months of it are still within the bound."
        ),
    ),
}
"""The baselines' numbers stand in health/rules/baselines.py and health/rules/memory.py."""

EXPECTATION_SOURCE = _(
    "Derived here: baselines with the scatter between runs and within a run, as in an analysis of "
    "variance of one factor; the bounds were found on generated histories."
)
