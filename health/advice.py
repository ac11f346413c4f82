"""What to do about a flag, what follows if nobody does, and how long there is.

A limit of the register says it; what the register leaves open is common practice, no source, from
memory. Local rules and authorised people decide.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from health.models import NOTE, WATER_FLOW, WATER_LEVEL, Episode
from health.rules import consistency
from health.rules.notes import COPIED, STUCK
from health.rules.pattern import PATTERN
from health.words import relation_of
from station.models import Limit, Priority

LOW_WATER = _("HT off; do not investigate first.")
NOTHING_SAID = _("The limit does not say what to do: this is a note, not an alarm.")
NOT_STATED = _("The register does not say.")

OF_RULE = {
    "": _(
        "Read it again; compare it with the log of this wave and with what goes with it; ask "
        "whether wave, power and state are those of the log."
    ),
    consistency.PAIR: _(
        "Read both again; compare their filaments and dials; tell the engineer which of the two "
        "moved before anything is adjusted."
    ),
    consistency.HT_SUM: _(
        "Read all the currents again in one go; look for a stage whose meter was forgotten or "
        "moved."
    ),
    consistency.REFLECTION: _(
        "Read both powers again; check antenna, wave and switch indication; reduce power if it "
        "rises further."
    ),
    consistency.APPARENT: _(
        "Read power, voltage and currents again; compare tuning and coupling with the wave's own "
        "settings."
    ),
    consistency.WITH_DRIVER: _(
        "Read again; compare the driver with its usual figures, then tuning and coupling."
    ),
    consistency.HEAT: _("Read flow and both temperatures again; look at pump and strainer."),
    consistency.FEEDER: _("Read the feeder currents and powers again; compare the legs."),
    consistency.LEAKAGE: _(
        "Read leakage and conductivity again; have the hoses looked at when the set is isolated."
    ),
    consistency.ABOVE_RAW: _(
        "Read the temperatures again; check flows and exchanger before the load."
    ),
    PATTERN: _(
        "Read the meters that carry it again in one round; look for what they have in common "
        "before anything is adjusted."
    ),
    COPIED: _("Ask who read these rounds whether the values were read anew; accuse nobody."),
    STUCK: _("Tap nothing; compare the meter with another, and have its instrument checked."),
}
"""By a rule's relation, or by its own name."""

FOLLOWS = {
    WATER_LEVEL: _("The anode runs dry: the tube is lost within a minute."),
    WATER_FLOW: _("Cooling fails: anode and seals overheat within a minute or so."),
    "water_temperature": _("Steam and scale, then a trip; seals suffer."),
    "reflected_power": _("Arcs on feeder or switch; a trip off the air."),
    "filament_voltage": _("Shorter life of the tube: emission too low, or tungsten boils off."),
    "screen_current": _("The screen overheats: the tube can be lost."),
    "grid_current": _("The grid overheats, or the drive is lost and power falls."),
    "anode_current": _("The anode overheats, or power falls; a trip off the air."),
}
"""By quantity, for limits alone."""

TIME = {
    Priority.HIGH: _("none: at once"),
    Priority.MEDIUM: _("this round"),
    Priority.LOW: _("this shift"),
    NOTE: _("the next time somebody looks"),
}


@dataclass(frozen=True)
class Advice:
    """``to_do`` has its most pressing line first."""

    to_do: tuple[str, ...]
    follows: str
    time: str


def advice_for(episode: Episode, limit: Limit | None) -> Advice:
    return Advice(
        to_do=tuple(str(line) for line in lines_to_do(episode, limit)),
        follows=str(what_follows(episode, limit)),
        time=str(TIME[episode.priority]) if limit is None else time_words(episode, limit),
    )


def what_follows(episode: Episode, limit: Limit | None) -> object:
    if limit is not None and limit.consequence:
        return limit.consequence
    of_quantity = FOLLOWS.get(episode.meter.quantity, NOT_STATED)
    return of_quantity if episode.is_of_limit else NOT_STATED


def time_words(episode: Episode, limit: Limit) -> str:
    """The register's minutes; without them what the priority gives. Low water leaves none."""
    if limit.allowed_min and not episode.is_vital:
        words = ngettext("%(n)s minute", "%(n)s minutes", limit.allowed_min)
        return words % {"n": limit.allowed_min}
    return str(TIME[Priority.HIGH if limit.allowed_min == 0 else episode.priority])


def lines_to_do(episode: Episode, limit: Limit | None) -> Iterator[object]:
    if episode.is_vital:
        yield LOW_WATER
    if episode.is_of_limit:
        if limit is not None and limit.advice:
            yield limit.advice
        elif not episode.is_vital:
            yield NOTHING_SAID
        return
    rule = episode.rule
    yield OF_RULE.get(rule) or OF_RULE.get(relation_of(rule)) or NOT_STATED
