"""The sentence that a flag shows: data by rule, so that a new rule brings its words along."""

from collections.abc import Callable
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from health.models import Episode
from health.rules import absolute, consistency
from health.rules.channels import CLIMB
from health.rules.days import BEYOND, DEPARTURE, SHIFT
from health.rules.notes import COPIED, STUCK
from health.rules.pattern import PATTERN
from health.summaries import NO_WAVE
from logbook.words import wave_words
from station.models import Meter


@dataclass(frozen=True)
class Subject:
    """What a rule judges; ``unit`` and ``decimals`` None: those of the meter."""

    what: str
    unit: str | None = None
    decimals: int | None = None

    def words(self, meter: Meter) -> str:
        return self.what % {"meter": meter.label}

    def number(self, value: float, meter: Meter) -> str:
        decimals = meter.decimals if self.decimals is None else self.decimals
        return f"{round(value, decimals) + 0.0:.{decimals}f}"  # never '-0.0'

    def amount(self, value: float, meter: Meter) -> str:
        """'12.4 A'."""
        return f"{self.number(value, meter)} {self.unit_words(meter)}".strip()

    def unit_words(self, meter: Meter) -> str:
        return meter.unit if self.unit is None else str(self.unit)


PERCENT, OF_USUAL = "%", lazy("% of usual")
SUBJECTS = {
    "": Subject(lazy("%(meter)s")),
    consistency.PAIR: Subject(lazy("Balance of %(meter)s and its pair"), PERCENT, 1),
    consistency.HT_SUM: Subject(lazy("%(meter)s less the currents that it includes")),
    consistency.REFLECTION: Subject(lazy("Reflected over forward power"), PERCENT, 2),
    consistency.APPARENT: Subject(lazy("Apparent efficiency"), PERCENT, 1),
    consistency.WITH_DRIVER: Subject(lazy("Efficiency with the driver"), PERCENT, 1),
    consistency.HEAT: Subject(lazy("Flow times rise (%(meter)s)"), OF_USUAL, 1),
    consistency.FEEDER: Subject(lazy("Square of the feeder current over output"), OF_USUAL, 1),
    consistency.LEAKAGE: Subject(lazy("%(meter)s over conductivity"), OF_USUAL, 1),
    consistency.ABOVE_RAW: Subject(lazy("%(meter)s less the share of the raw water")),
}
"""By the relation's name; '' is a meter by itself."""

LIMITS = {
    "limit-low": lazy("%(meter)s %(value)s %(unit)s: at or below the low alarm %(limit)s"),
    "limit-high": lazy("%(meter)s %(value)s %(unit)s: at or above the high alarm %(limit)s"),
}
ABOVE, BELOW = True, False
DEPARTURES = {
    ABOVE: lazy(
        "%(what)s %(value)s: %(sigmas).1f sigma above its usual %(usual)s at this operating point"
    ),
    BELOW: lazy(
        "%(what)s %(value)s: %(sigmas).1f sigma below its usual %(usual)s at this operating point"
    ),
}
SHIFTS = {
    ABOVE: lazy("%(what)s: has moved to %(sigmas).1f sigma above its usual level in the last days"),
    BELOW: lazy("%(what)s: has moved to %(sigmas).1f sigma below its usual level in the last days"),
}
RISEN = lazy("%(what)s: has risen by %(sigmas).1f sigma within two weeks")
APART = {
    consistency.PAIR: SUBJECTS[consistency.PAIR],
    consistency.HT_SUM: SUBJECTS[consistency.HT_SUM],
    consistency.FEEDER: Subject(lazy("Power by %(meter)s against the output"), PERCENT, 1),
}
"""What is compared with the instruments' errors, by the relation's name."""
BEYOND_ERRORS = lazy(
    "%(what)s %(value)s: more than the %(allowed)s that the errors of the meters allow"
)
REPEATS = {
    COPIED: lazy(
        "Rows of readings repeat more exactly than chance makes likely; consistent with rows that "
        "were copied: look again"
    ),
    STUCK: lazy(
        "%(meter)s: one value for longer than chance makes likely; consistent with a meter that "
        "is stuck: look again"
    ),
}
UNKNOWN = lazy("%(meter)s: flag of the rule %(rule)s")


def flag_words(episode: Episode) -> str:
    """'HT voltage 9.1 kV: at or below the low alarm 9.2 kV'."""
    return SAYS.get(episode.rule, unknown_words)(episode)


def limit_words(episode: Episode) -> str:
    meter = episode.meter
    return LIMITS[episode.rule] % {
        "meter": meter.label,
        "value": limit_reading(episode),
        "limit": f"{episode.evidence['limit']:.{meter.decimals}f}",
        "unit": meter.unit,
    }


def limit_reading(episode: Episode) -> str:
    value = episode.evidence["value"]
    number = "" if value is None else f"{value:.{episode.meter.decimals}f}"
    return f"{episode.evidence['bound']}{number}"


def departure_words(episode: Episode) -> str:
    """'V1 anode current 13.4 A: 5.2 sigma above its usual 12.4 A at this operating point'."""
    subject, sigmas = subject_of(episode.rule), sigmas_of(episode)
    return DEPARTURES[sigmas >= 0] % {
        "what": subject.words(episode.meter),
        "value": subject.amount(episode.evidence["value"], episode.meter),
        "usual": subject.amount(usual_of(episode), episode.meter),
        "sigmas": abs(sigmas),
    }


def shift_words(episode: Episode) -> str:
    sigmas = sigmas_of(episode)
    what = subject_of(episode.rule).words(episode.meter)
    is_risen = sigmas >= 0 and episode.meter.quantity in CLIMB
    words = RISEN if is_risen else SHIFTS[sigmas >= 0]
    return words % {"what": what, "sigmas": abs(sigmas)}


def beyond_words(episode: Episode) -> str:
    subject, facts = APART[relation_of(episode.rule)], episode.evidence
    return BEYOND_ERRORS % {
        "what": subject.words(episode.meter),
        "value": subject.amount(facts["value"], episode.meter),
        "allowed": subject.amount(facts["allowed"], episode.meter),
    }


def sigmas_of(episode: Episode) -> float:
    """How far a departure or a shift lies from where it usually stands, below it negative."""
    facts = episode.evidence
    if "shift" in facts:
        return facts["shift"]
    return (facts["value"] - usual_of(episode)) / facts["sigma"]


def usual_of(episode: Episode) -> float:
    """Where the series of a departure usually stands; older flags have the baseline alone."""
    facts = episode.evidence
    return facts["centre"] + facts.get("usual", 0.0) * facts["sigma"]


def repeat_words(episode: Episode) -> str:
    return REPEATS[episode.rule] % {"meter": episode.meter.label}


def pattern_words(episode: Episode) -> str:
    """'V1 anode current and 2 others: strange together, 1.3 times the limit of the chart, ...'."""
    facts = episode.evidence
    others = len(facts["carried"]) - 1
    words = (
        ngettext(
            "%(meter)s and %(count)d other: strange together, %(times).1f times the limit of the "
            "chart, though each may be within its own bounds",
            "%(meter)s and %(count)d others: strange together, %(times).1f times the limit of the "
            "chart, though each may be within its own bounds",
            others,
        )
        if others
        else _(
            "%(meter)s beside all the other meters: strange, %(times).1f times the limit of the "
            "chart, though each may be within its own bounds"
        )
    )
    times = facts["size"] / facts["limit"]
    return words % {"meter": episode.meter.label, "count": others, "times": times}


def unknown_words(episode: Episode) -> str:
    """Of a rule that an older or a newer release knew."""
    return UNKNOWN % {"meter": episode.meter.label, "rule": episode.rule}


def relation_of(rule: str) -> str:
    """'pair' of 'pair-shift', '' of 'shift'."""
    return rule.rpartition("-")[0]


def subject_of(rule: str) -> Subject:
    return SUBJECTS[relation_of(rule)]


def named(relation: str, kind: str) -> str:
    """The name of a rule, as the judge gives it: 'pair-shift', or 'shift' of a meter by itself."""
    return f"{relation}-{kind}" if relation else kind


SAYS: dict[str, Callable[[Episode], str]] = {
    **dict.fromkeys(LIMITS, limit_words),
    **{named(relation, DEPARTURE): departure_words for relation in SUBJECTS},
    **{named(relation, SHIFT): shift_words for relation in SUBJECTS},
    **{named(relation, BEYOND): beyond_words for relation in absolute.TESTS},
    **dict.fromkeys(REPEATS, repeat_words),
    PATTERN: pattern_words,
}


def air_words(frequency_khz: float) -> str:
    """'6105 kHz', or 'off the air' for NO_WAVE."""
    return _("off the air") if frequency_khz == NO_WAVE else wave_words(frequency_khz)
