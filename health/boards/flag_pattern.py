"""Which meters carry a flag of what is strange together, in words."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from health.boards.flag_expected import Judged, compared_words, sigma_words
from health.rules.days import BACK
from health.words import SUBJECTS


@dataclass(frozen=True)
class CarriedLine:
    """One series, what part of the flag it carries, and where it stood beside its baseline."""

    words: str
    compared: str
    share: str
    mean: str


@dataclass(frozen=True)
class Together:
    """What the chart found, what the rule wants, and the series that carry it, most first."""

    found: str
    wants: str
    lines: tuple[CarriedLine, ...]


def together_of(judged: Judged) -> Together | None:
    """None for a flag of another rule."""
    facts = judged.episode.evidence
    if "carried" not in facts:
        return None
    limit = facts["limit"]
    return Together(
        found=f"{facts['size']:.0f}",
        wants=_("%(limit).0f or more; it ends below %(back).0f")
        % {"limit": limit, "back": limit * BACK},
        lines=tuple(carried_line(judged, one) for one in facts["carried"]),
    )


def carried_line(judged: Judged, carried: dict[str, Any]) -> CarriedLine:
    """A series that the register no longer has keeps its key."""
    channel = judged.carriers.get(carried["channel"])
    meters = {meter.pk: meter for meter in judged.meters}
    return CarriedLine(
        words=SUBJECTS[channel.relation].words(meters[channel.meter_id])
        if channel
        else carried["channel"],
        compared=compared_words(channel),
        share=_("%(share).0f %%") % {"share": 100 * carried["share"]},
        mean=sigma_words(carried["mean"]),
    )
