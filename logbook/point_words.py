"""The operating point in words for a page; what is not known says so."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from logbook.points import OperatingPoint
from station.limits import Place
from station.states import PowerSetBy, State


@dataclass(frozen=True)
class PointWords:
    state: str
    wave: str
    antenna: str
    coil_set: str
    power: str
    since: datetime | None


def place_of(point: OperatingPoint, modulation: str) -> Place:
    """The part of the operating point that limits depend on."""
    return Place(point.state, point.frequency_khz, point.power_kw, point.set_by, modulation)


def state_word(state: str) -> str:
    return str(State(state).label) if state in State.values else _("unknown")


def point_words(point: OperatingPoint) -> PointWords:
    unknown = _("unknown")
    return PointWords(
        state=state_word(point.state),
        wave=unknown if point.frequency_khz is None else f"{point.frequency_khz:.12g} kHz",
        antenna=point.antenna or unknown,
        coil_set=point.coil_set or unknown,
        power=power_words(point) or unknown,
        since=None if point.since is None else point.since.to_pydatetime(),
    )


def power_words(point: OperatingPoint) -> str:
    if point.power_kw is None:
        return ""
    power = f"{point.power_kw:.12g} kW"
    if point.set_by not in PowerSetBy.values:
        return power
    return _("%(power)s, set by %(how)s") % {"power": power, "how": PowerSetBy(point.set_by).label}
