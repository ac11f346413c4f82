"""What is asked about a change of state before it is written: asked, never refused. Pure."""

from collections import deque
from collections.abc import Collection
from dataclasses import dataclass

from django.utils.translation import gettext as _

from logbook.point_words import state_word
from station.models import Antenna
from station.states import USUAL_MOVES

# Broadcasting below 30 MHz: 5900 to 26100 kHz and steps of 5 kHz are the short-wave plan of
# ITU Radio Regulations Article 12 (from memory).
LOWEST_KHZ, HIGHEST_KHZ, RASTER_KHZ = 5900, 26100, 5
SLIPS = (1000, 0.1, 10, 0.01, 100, 0.001)
MEDIUM_WAVE_BELOW_KHZ = 2000


@dataclass(frozen=True)
class Question:
    """A question at a field; ``name`` changes with what was typed, so that an answer fits it alone.

    ``offer`` is a text that may be taken for the field; ``needs_reason`` asks why it is so.
    """

    name: str
    field: str
    sentence: str
    offer: str = ""
    needs_reason: bool = False


def is_unusual(before: str, after: str) -> bool:
    return bool(before and after) and before != after and after not in USUAL_MOVES[before]


def steps_between(before: str, after: str) -> list[str]:
    """The states of the shortest usual way of an unusual move, without its ends.

    >>> steps_between("off", "on_air")
    ['warming', 'standby']
    """
    if not is_unusual(before, after):
        return []
    ways, seen = deque([[before]]), {before}
    while ways:
        way = ways.popleft()
        for following in sorted(USUAL_MOVES[way[-1]]):
            if following == after:
                return way[1:]
            if following not in seen:
                seen.add(following)
                ways.append([*way, str(following)])
    return []


def move_question(before: str, after: str) -> Question | None:
    """Asked when the move is not one that commonly follows."""
    if not is_unusual(before, after):
        return None
    sentence = _(
        "After '%(before)s' usual next are: %(usual)s. If it did go to '%(after)s' at once, say so "
        "and give the reason; the missing steps (%(steps)s) can be written as estimated."
    ) % {
        "before": state_word(before),
        "usual": ", ".join(state_word(state) for state in sorted(USUAL_MOVES[before])),
        "after": state_word(after),
        "steps": ", ".join(state_word(state) for state in steps_between(before, after)),
    }
    return Question(f"move:{before}:{after}", "state", sentence, needs_reason=True)


def frequency_question(khz: float, waves: Collection[float]) -> Question | None:
    """Asked when kHz cannot be a wave of this transmitter; a registered wave never is."""
    if khz in waves:
        return None
    meant = slip(khz, waves)
    words = {"khz": f"{khz:.12g}", "low": LOWEST_KHZ, "high": HIGHEST_KHZ, "step": RASTER_KHZ}
    if meant:
        sentence = _("%(khz)s kHz: did you mean %(meant)s kHz?") % {**words, "meant": meant}
    elif is_medium_wave(waves):
        sentence = _("%(khz)s kHz is not a wave that this transmitter is set up for.") % words
    elif not LOWEST_KHZ <= khz <= HIGHEST_KHZ:
        sentence = _("%(khz)s kHz is outside %(low)s to %(high)s kHz.") % words
    elif khz % RASTER_KHZ:
        sentence = _("%(khz)s kHz is not a multiple of %(step)s kHz.") % words
    else:
        return None
    return Question(f"khz:{khz:.12g}", "frequency", sentence, offer=meant)


def is_medium_wave(waves: Collection[float]) -> bool:
    return bool(waves) and max(waves) < MEDIUM_WAVE_BELOW_KHZ


def slip(khz: float, waves: Collection[float]) -> str:
    """The wave that a misplaced point or MHz for kHz would make of it, or ''."""
    if not is_medium_wave(waves) and LOWEST_KHZ <= khz <= HIGHEST_KHZ:
        return ""
    candidates = [round(khz * factor, 6) for factor in SLIPS]
    registered = [one for one in candidates if one in waves]
    fitting = [
        one
        for one in candidates
        if not is_medium_wave(waves) and LOWEST_KHZ <= one <= HIGHEST_KHZ and one % RASTER_KHZ == 0
    ]
    return f"{(registered + fitting)[0]:.12g}" if registered or fitting else ""


def antenna_question(antenna: Antenna | None, khz: float | None) -> Question | None:
    """Asked when the antenna is not made for the wave: a burnt switch, interference."""
    if antenna is None or khz is None or antenna.suits(khz):
        return None
    sentence = _(
        "Antenna %(code)s is for %(low)g to %(high)g kHz, not for %(khz)s kHz. Choose another "
        "antenna or wave, or say that it is so and why."
    ) % {
        "code": antenna.code,
        "low": antenna.low_khz,
        "high": antenna.high_khz,
        "khz": f"{khz:.12g}",
    }
    return Question(f"antenna:{antenna.code}:{khz:.12g}", "antenna", sentence, needs_reason=True)


def power_question(power_kw: float, full_power_kw: float) -> Question | None:
    """Asked above 105 % of full power: a slip, or to be explained. Common practice, no source."""
    if power_kw <= 1.05 * full_power_kw:
        return None
    sentence = _("%(power)s kW is more than this transmitter's full power of %(full)g kW.") % {
        "power": f"{power_kw:.12g}",
        "full": full_power_kw,
    }
    return Question(f"power:{power_kw:.12g}", "power", sentence, needs_reason=True)
