"""The sentences of a tube's emission and filament, by the codes of the rules."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from health.boards.tube_emission import Life
from health.gap import WarmUps
from health.rules.emission import Emission, Evidence, Source, Statement
from health.rules.filament_steps import Advice
from health.rules.heater import Heater
from health.rules.sheets import DAY_MIN
from logbook.times import instant_of

SOURCES = {
    Source.TONE: lazy("Weekly tone"),
    Source.STEP: lazy("Filament step test"),
    Source.CARRIER: lazy("Grid and anode current, hourly"),
}
STATES = {
    Emission.ENOUGH: lazy("What was tested is consistent with enough emission."),
    Emission.FALLING: lazy("Consistent with an emission that falls: its margin is being used up."),
    Emission.WEAK: lazy("Consistent with an emission below what the peaks ask."),
    Emission.UNTOLD: lazy("Nothing that was read can show the emission of this tube now."),
}
EVIDENCE = {
    "no-tone-meter": lazy("No meter shows this tube on the tone."),
    "few-tones": lazy("%(n).0f tone readings since the tube was fitted: 8 are needed."),
    "tone-weak": lazy(
        "%(level)+.1f %% against the tube's own first tones, the mean of the newest three of "
        "%(n).0f: consistent with low emission, low drive of the modulator or a transformer tap."
    ),
    "tone-falling": lazy(
        "%(level)+.1f %% against the tube's own first tones; %(slope)+.1f %% per 1000 filament "
        "hours (%(low)+.1f to %(high)+.1f), from %(n).0f readings."
    ),
    "tone-old": lazy("The newest of %(n).0f tones is more than 1000 filament hours old."),
    "tone-steady": lazy(
        "%(level)+.1f %% against the tube's own first tones, from %(n).0f readings: no fall that "
        "can be told from none."
    ),
    "no-step": lazy("No step test was written for this tube."),
    "step-unread": lazy("The newest step test has no current or power before and after."),
    "step-small": lazy(
        "The filament was lowered by %(lowered).1f %% only: 5 %% shows more. The reading fell by "
        "%(fall).1f %%."
    ),
    "step-weak": lazy(
        "%(lowered).1f %% less on the filament took %(fall).1f %% off: the current follows the "
        "filament, so the emission holds it."
    ),
    "step-falling": lazy(
        "%(lowered).1f %% less on the filament took %(fall).1f %% off: the margin is small."
    ),
    "step-old": lazy(
        "%(lowered).1f %% less on the filament took %(fall).1f %% off, but that was %(age).0f "
        "filament hours ago: more than 1000."
    ),
    "step-steady": lazy(
        "%(lowered).1f %% less on the filament took %(fall).1f %% off: no more than the meters' "
        "own steps."
    ),
    "no-carrier": lazy("No current of this tube alone is read on programme, or too few days."),
    "carrier-pair": lazy(
        "%(recent)+.1f %% against the other tube of the pair, %(slope)+.1f %% per 1000 h on the "
        "air (%(n).0f points): consistent with a margin below 1."
    ),
    "carrier-alone": lazy(
        "%(recent)+.1f %%, %(slope)+.1f %% per 1000 h on the air (%(n).0f points). Drive and "
        "tuning do the same, and there is no pair to compare it with."
    ),
    "carrier-both": lazy(
        "%(recent)+.1f %%, and the other tube of the pair with it: consistent with drive, tuning "
        "or load rather than with one tube."
    ),
    "carrier-steady": lazy(
        "No fall that can be told (%(recent)+.1f %%, %(n).0f points). While the margin is above "
        "1 the hourly carrier readings cannot show it."
    ),
}
BLIND = {
    Source.TONE: lazy("It shows the margin over the peaks of the tone, not over louder ones."),
    Source.STEP: lazy(
        "It shows the margin at the moment of the test, at the power it was done at."
    ),
    Source.CARRIER: lazy(
        "While the margin is above 1 it shows nothing, and afterwards the crew restores the power "
        "by coupling or drive: only the tone and the step test show it in time."
    ),
}
NEXT = {
    "contact": lazy(
        "The filament current fell in a step: temperature and torque of the filament contacts "
        "first, then the tube."
    ),
    "plan-change": lazy(
        "Repeat the tone or the step test. One step up on the filament, inside the maker's "
        "maximum, restores it for a short time: plan the change of the tube."
    ),
    "test-soon": lazy(
        "Repeat the step test, at the latest after 500 filament hours; lower the filament no "
        "further; have a spare ready."
    ),
    "test-later": lazy("Step test again after 500 to 1000 filament hours."),
    "test-now": lazy(
        "Do a filament step test: 5 % down for two or three minutes, never under the maker's "
        "minimum, and read currents and power before and lowered."
    ),
}
ADVICE = {
    "no-minimum": lazy("The maker's minimum is not entered: no lower setting is proposed."),
    "raise": lazy("It was left under the maker's minimum: raise it, to %(low).2f V at the least."),
    "back-up": lazy("A sign was seen: back up a little, to between %(low).2f and %(high).2f V."),
    "sign-at-rated": lazy(
        "A sign was seen at the rated voltage: the setting is not the cause, look at the emission."
    ),
    "no-lower": lazy("The emission falls: leave the filament where it is, lower it no further."),
    "run-in": lazy("Its first hours: leave it at the rated voltage."),
    "hold": lazy("It was backed up from its first sign: leave it there."),
    "at-minimum": lazy("One step more would pass the maker's minimum: leave it there."),
    "down": lazy(
        "No sign so far: one step of 1 to 2 %%, to between %(low).2f and %(high).2f V true RMS at "
        "the tube, then watch distortion, grid current and power."
    ),
}


def source_words(evidence: Evidence) -> str:
    return str(SOURCES[evidence.source])


def evidence_words(evidence: Evidence) -> str:
    sentence = str(EVIDENCE[evidence.code])
    return sentence % evidence.figures if evidence.figures else sentence


def growth_words(evidence: Evidence) -> str:
    """How the fall of the step tests went over the hours, '' with fewer than three."""
    if evidence.source != Source.STEP or "slope" not in evidence.figures:
        return ""
    return _("It grew by %(slope)+.1f points per 1000 filament hours over %(n).0f tests.") % (
        evidence.figures
    )


def blind_words(evidence: Evidence) -> str:
    return str(BLIND[evidence.source])


def state_words(said: Statement) -> str:
    return str(STATES[said.state])


def next_words(said: Statement) -> str:
    return str(NEXT[said.check])


def due_words(said: Statement) -> str:
    """When the next step test is due by the hours, '' where none was done."""
    if said.due_h is None:
        return ""
    facts = {"early": said.due_h[0], "late": said.due_h[1]}
    return _("Next step test at %(early).0f to %(late).0f filament hours.") % facts


def advice_words(advice: Advice) -> str:
    sentence = str(ADVICE[advice.code])
    if advice.low_v is None:
        return sentence
    return sentence % {"low": advice.low_v, "high": advice.high_v}


def heater_words(heater: Heater) -> str:
    """'0.0333 ohm; +0.1 % per 1000 filament hours (-0.2 to +0.4), from 50 days: no trend ...'."""
    if heater.now is None or heater.slope is None:
        return _("Too few days with filament volts and amps of this tube.")
    facts = {"ohm": heater.now, "first": heater.first, "slope": heater.slope}
    facts |= {"low": heater.low, "high": heater.high, "n": heater.days}
    words = _(
        "%(ohm).4f ohm hot, %(first).4f at first; %(slope)+.2f %% per 1000 filament hours "
        "(%(low)+.2f to %(high)+.2f), from %(n)d days"
    )
    return _("%(what)s: %(told)s.") % {"what": words % facts, "told": trend_words(heater)}


def trend_words(heater: Heater) -> str:
    if not heater.is_trend_told or heater.slope is None:
        return _("no trend that can be told from none")
    if heater.slope > 0:
        return _("it rises, consistent with a filament contact that gets worse or a worn wire")
    return _("it falls, consistent with a contact that settled or with the meters")


def heater_step_words(heater: Heater) -> str:
    """'' where there is none."""
    if heater.step is None:
        return ""
    day = instant_of(heater.step.day * DAY_MIN).date().isoformat()
    facts = {"percent": heater.step.percent, "day": day}
    if heater.step.is_down:
        sentence = _(
            "The current went %(percent)+.1f %% in a step on %(day)s at the same voltage: "
            "consistent with an open strand or a loose or hot filament contact."
        )
    else:
        sentence = _(
            "The current went %(percent)+.1f %% in a step on %(day)s at the same voltage: "
            "consistent with a contact that was mended, or with another meter."
        )
    return sentence % facts


def life_words(life: Life) -> str:
    if life.factor is None:
        return _("No exponent entered for this tube type: no life multiplier.")
    facts = {"volts": life.volts, "rated": life.rated, "factor": life.factor, "n": life.exponent}
    return (
        _(
            "%(volts).2f V of %(rated).2f V by the entered exponent %(n)g: %(factor).2f times the "
            "life at the rated voltage. A rule of thumb and no law."
        )
        % facts
    )


def warm_up_words(warm_ups: WarmUps) -> str:
    if warm_ups.median_min is None:
        return _("how long a warm-up takes is not in the log")
    words = ngettext(
        "a warm-up of %(median).0f min (%(n)d in 90 days)",
        "a warm-up of %(median).0f min (median of %(n)d in 90 days)",
        warm_ups.n,
    )
    return words % {"median": warm_ups.median_min, "n": warm_ups.n}
