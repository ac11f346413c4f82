"""The sentence that a flag shows."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from health.models import Episode
from health.summaries import NO_WAVE
from logbook.words import wave_words


def flag_words(episode: Episode) -> str:
    """'HT voltage 9.1 kV at or below the low alarm 9.2 kV'."""
    facts = {
        "meter": episode.meter.label,
        "value": reading_words(episode),
        "limit": f"{episode.evidence['limit']:.{episode.meter.decimals}f}",
        "unit": episode.meter.unit,
    }
    if episode.rule == "limit-low":
        return _("%(meter)s %(value)s %(unit)s: at or below the low alarm %(limit)s") % facts
    return _("%(meter)s %(value)s %(unit)s: at or above the high alarm %(limit)s") % facts


def reading_words(episode: Episode) -> str:
    value = episode.evidence["value"]
    number = "" if value is None else f"{value:.{episode.meter.decimals}f}"
    return f"{episode.evidence['bound']}{number}"


def air_words(frequency_khz: float) -> str:
    """'6105 kHz', or 'off the air' for NO_WAVE."""
    return _("off the air") if frequency_khz == NO_WAVE else wave_words(frequency_khz)


@dataclass(frozen=True)
class RuleWords:
    """What a rule looks at, how it decides, and where that comes from."""

    name: str
    looks_at: str
    decides: str
    source: str


def rule_words(rule: str) -> RuleWords:
    is_low = rule == "limit-low"
    return RuleWords(
        name=_("fixed alarm limit, low") if is_low else _("fixed alarm limit, high"),
        looks_at=_(
            "Each current reading of one meter, with the limit of its state, wave, power and "
            "programme at the minute at which it was read."
        ),
        decides=(
            _("value <= limit begins it; value >= limit + deadband ends it")
            if is_low
            else _("value >= limit begins it; value <= limit - deadband ends it")
        ),
        source=_(
            "The station's register; deadband and suppression by state as in IEC 62682 (from "
            "memory). A limit tighter than the meter's class proves little."
        ),
    )
