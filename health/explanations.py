"""What each rule looks at, how it decides, where that comes from, and what it cannot see."""

from dataclasses import dataclass

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from health.rules import absolute
from health.rules.days import BEYOND
from health.rules.notes import COPIED, STUCK
from health.rules.pattern import PATTERN
from health.series_words import EXPECTATION_SOURCE, KINDS, RELATIONS
from health.words import named


@dataclass(frozen=True)
class RuleText:
    """``formulas``: names of functions of ``health.formulas`` that the rule stands on;
    ``consistent``: what a flag of it may come from."""

    name: str
    looks_at: str
    decides: str
    source: str
    valid: str
    blind: str
    consistent: str = ""
    formulas: tuple[str, ...] = ()


LIMIT = {
    "looks_at": _(
        "Each current reading of one meter, with the limit of its state, wave, power and "
        "programme at the minute at which it was read."
    ),
    "source": _(
        "The station's register; deadband and suppression by state as in IEC 62682 (from "
        "memory). A limit nearer to the normal value than the meter's own error marks the cell, "
        "and raises a flag only beyond that error."
    ),
    "valid": _(
        "In states in which the meter is live, and from the date of the limit's version on. "
        "Just after a change the meters settle, and nothing is judged."
    ),
    "blind": _(
        "What changes between two rounds. What stays inside the limits, however far from usual."
    ),
}
REPEAT = {
    "source": _("Derived here, from the rounding of the readings."),
    "valid": _(
        "Where step and scatter of the meters are known; readings at zero do not count. A coarse "
        "meter repeats by itself, and that is reckoned with."
    ),
}
ABSOLUTE = {
    "decides": _(
        "The difference at or beyond sqrt(3) times the root of the sum of the squares of the "
        "instruments' errors (class times full scale); of a pair 15 points, or 2.5 steps where "
        "those are more; read twice, or twice in a row. It ends below 0.6 of that."
    ),
    "source": _(
        "Three standard uncertainties of errors that may lie anywhere within the class, as in "
        "the Guide to the expression of uncertainty in measurement, JCGM 100 (from memory); the "
        "bound of a pair is common practice, no source."
    ),
    "valid": _(
        "From the first round on, without a baseline, on carrier where the programme moves the "
        "meters. Of the feeder where the register knows the impedance, below an SWR of 1.2."
    ),
    "blind": _(
        "What stays inside the errors of all the meters together: the shift sees smaller changes. "
        "It does not tell which of the meters is wrong."
    ),
}
RULES: dict[str, RuleText] = {
    "limit-low": RuleText(
        name=_("fixed alarm limit, low"),
        decides=_(
            "value <= limit begins it; value >= limit + deadband ends it. Low water is of high "
            "priority wherever there is HT, whatever the register gives."
        ),
        **LIMIT,
    ),
    "limit-high": RuleText(
        name=_("fixed alarm limit, high"),
        decides=_("value >= limit begins it; value <= limit - deadband ends it"),
        **LIMIT,
    ),
    **{
        named(key, kind_key): RuleText(
            name=format_lazy("{}, {}", relation.name, kind.name),
            looks_at=relation.looks_at,
            decides=kind.decides,
            source=EXPECTATION_SOURCE,
            valid=kind.valid,
            blind=format_lazy("{} {}", relation.blind, kind.blind),
            consistent=relation.consistent,
            formulas=relation.formulas,
        )
        for key, relation in RELATIONS.items()
        for kind_key, kind in KINDS.items()
    },
    **{
        named(key, BEYOND): RuleText(
            name=format_lazy("{}, {}", RELATIONS[key].name, _("beyond the meters' errors")),
            looks_at=RELATIONS[key].looks_at,
            consistent=RELATIONS[key].consistent,
            formulas=RELATIONS[key].formulas,
            **ABSOLUTE,
        )
        for key in absolute.TESTS
    },
    PATTERN: RuleText(
        name=_("strange together"),
        looks_at=_(
            "All meters of a transmitter together that are read in each round, each once: by day "
            "their mean from the baselines, of three days the one in the middle. The flag hangs on "
            "the meter that carries most of it; its page says what part each carries."
        ),
        decides=_(
            "T squared of the weighted means (half for the newest day), from the days that lie 10 "
            "to 60 back and from the baselines, both at or beyond 2 times what held-out parts of "
            "those days reach by themselves. It ends below 0.6 of that. Judged when a day has "
            "ended; not raised where one meter carries 0.8 of it, or where a flag of one of the "
            "meters that carry it stands already."
        ),
        source=_(
            "The multivariate chart of weighted means of Lowry, Woodall, Champ and Rigdon, "
            "Technometrics 34(1), 1992; correlations shrunk as by Ledoit and Wolf, 2004; the parts "
            "by Garthwaite and Koch, 2016 (from memory). The limit by held-out parts is derived "
            "here, its factor was found on generated histories."
        ),
        valid=_(
            "From 30 days on that lie ten days back; of each meter that was read on six of ten of "
            "them and within the last three days. A changed tube or instrument begins its meters "
            "anew."
        ),
        blind=_(
            "What comes and goes within two days. What was already so some weeks ago. It does not "
            "tell why meters no longer go together, nor which of them is right."
        ),
        consistent=_(
            "Meters that usually go together no longer do: a part of the plant or the operating "
            "point changed a little, or one of the meters did."
        ),
    ),
    COPIED: RuleText(
        name=_("rows that repeat"),
        looks_at=_(
            "Rounds of one transmitter that follow each other with the same readings. A quiet "
            "note that asks for a look; it accuses nobody."
        ),
        decides=_(
            "Three rounds or more, when the chance that all the repeats come by themselves is "
            "below about 1 in 30 000"
        ),
        blind=_("Rows that were copied with a digit changed. Counters are left out."),
        **REPEAT,
    ),
    STUCK: RuleText(
        name=_("meter that does not move"),
        looks_at=_(
            "One meter that shows one value round after round, across runs and waves. Looked at "
            "when a week has ended, two weeks back."
        ),
        decides=_(
            "Six readings or more, when the chance that they stay the same by themselves is "
            "below 1 in a million"
        ),
        blind=_("A meter that is stuck at zero, and one that only moves by less than it should."),
        **REPEAT,
    ),
}


def unknown_rule(name: str) -> RuleText:
    """Of a rule that an older or a newer release knew."""
    nothing = _("This release does not know the rule.")
    return RuleText(name, nothing, "", "", "", "")


def rule_text(name: str) -> RuleText:
    return RULES.get(name) or unknown_rule(name)
