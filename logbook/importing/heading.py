"""The heading of a file: which column says what."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from django.utils.translation import gettext as _

from logbook.importing.faults import Unreadable
from station.models import Meter

NEEDED = ("observed_at", "transmitter", "modulation", "observer")
POINT = ("state", "frequency_khz", "antenna", "power_kw")
MAY_BE = ("slot", "kind", *POINT)
LONG = ("meter", "value")
IGNORED = ("unit",)
NAME = re.compile(r"(?P<name>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")


@dataclass(frozen=True)
class Heading:
    """Where each column stands; ``meters`` is empty for a long file."""

    place: Mapping[str, int]
    meters: Mapping[str, int]
    in_utc: frozenset[str]
    width: int

    @property
    def is_long(self) -> bool:
        return "meter" in self.place


def heading_of(cells: Sequence[str], meters: Sequence[Meter]) -> Heading:
    """Read the heading; units must be the meters' own, since nothing is converted.

    Raises
    ------
    Unreadable
    """
    named = [NAME.fullmatch(cell) for cell in cells]
    names = [match["name"] if match else "" for match in named]
    units = [(match["unit"] or "") if match else "" for match in named]
    refuse_names(names)
    place = {name: number for number, name in enumerate(names)}
    own = {*NEEDED, *MAY_BE, *IGNORED, *(LONG if "meter" in names else ())}
    meter_places = {name: number for name, number in place.items() if name not in own}
    refuse_meters(meter_places, units, meters, is_long="meter" in names)
    in_utc = {name for name, unit in zip(names, units, strict=True) if unit.upper() == "UTC"}
    return Heading(place, meter_places, frozenset(in_utc), len(cells))


def refuse_names(names: Sequence[str]) -> None:
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise Unreadable(_("A column stands there twice: %(names)s.") % {"names": ", ".join(twice)})
    if "" in names:
        raise Unreadable(_("A column has no name; give it one, or take it out."))
    wanted = [*NEEDED, *(LONG if "meter" in names or "value" in names else ())]
    missing = [name for name in wanted if name not in names]
    if missing:
        raise Unreadable(_("Columns are missing: %(names)s.") % {"names": ", ".join(missing)})


def refuse_meters(
    places: Mapping[str, int], units: Sequence[str], meters: Sequence[Meter], *, is_long: bool
) -> None:
    units_of: dict[str, set[str]] = {}
    for meter in meters:
        units_of.setdefault(meter.code, set()).add(meter.unit)
    for name, number in places.items():
        if is_long or name not in units_of:
            near = get_close_matches(name, [*units_of, *NEEDED, *MAY_BE], n=1)
            hint = _(" Is '%(near)s' meant?") % {"near": near[0]} if near else ""
            raise Unreadable(
                _("The column '%(name)s' is no meter code of this station.%(hint)s")
                % {"name": name, "hint": hint}
            )
        if units[number] and {units[number]} != units_of[name]:
            facts = {"name": name, "unit": units[number]}
            facts["own"] = " / ".join(sorted(units_of[name]))
            raise Unreadable(
                _(
                    "The column '%(name)s' says %(unit)s, and the meter is read in %(own)s: "
                    "nothing is converted, so write it in %(own)s."
                )
                % facts
            )
