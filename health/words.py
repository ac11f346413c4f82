"""The sentence that a flag shows."""

from django.utils.translation import gettext as _

from health.models import Episode


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
