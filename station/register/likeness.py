"""A transmitter described as being like another, but for what its own table says.

Normal values are never taken over: they are each transmitter's own.
"""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from station.register.faults import Fault, not_among

Raw = dict[str, Any]
OWN_ALONE = ("normal", "valid_from")


def filled(transmitters: Mapping[str, Raw], faults: list[Fault]) -> dict[str, Raw]:
    """Every transmitter's table with what it takes from the one that it is like."""
    return {code: fill(code, transmitters, faults, ()) for code in transmitters}


def fill(code: str, all_: Mapping[str, Raw], faults: list[Fault], behind: tuple[str, ...]) -> Raw:
    own = all_[code]
    base = own.get("like") if isinstance(own, dict) else None
    if not isinstance(base, str):
        return own
    if base not in all_ or base in (code, *behind):
        if not behind:
            faults.append(Fault(f"{code}.like", not_like(base, code, all_)))
        return own
    return merged(own, fill(base, all_, faults, (*behind, code)))


def not_like(base: str, code: str, known: Mapping[str, Raw]) -> str:
    if base in known:
        return _("%(code)s would be like itself: name another transmitter.") % {"code": code}
    return not_among(_("transmitter of this file"), base, [name for name in known if name != code])


def merged(own: Raw, base: Raw) -> Raw:
    both = {**base, **own}
    if base.get("stages") and own.get("stages"):
        both["stages"] = {**base["stages"], **own["stages"]}
    if "waves" not in own and "waves" in base:
        both["waves"] = [without_normals(wave) for wave in base["waves"]]
    dropped = own.get("without", [])
    both["panels"] = merged_panels(own, base, dropped)
    both["limits"] = listed(own, "limits") + taken_limits(own, base, dropped)
    return both


def listed(raw: Raw, key: str) -> list[Raw]:
    value = raw.get(key, [])
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def without_normals(raw: Raw) -> Raw:
    return {
        key: value
        for key, value in raw.items()
        if key not in OWN_ALONE and not key.endswith("normals")
    }


def meters_of(panels: list[Raw]) -> dict[str, Raw]:
    return {meter.get("code"): meter for panel in panels for meter in listed(panel, "meters")}


def merged_panels(own: Raw, base: Raw, dropped: list[str]) -> list[Raw]:
    """The other's panels in its order with this one's figures, then what is this one's alone."""
    mine, theirs = listed(own, "panels"), listed(base, "panels")
    limited_here, known = limited(own), meters_of(theirs)
    written = meters_of(mine)
    panels: dict[Any, Raw] = {panel.get("name"): {**panel, "meters": []} for panel in theirs}
    for panel in mine:
        panels[panel.get("name")] = {**panel, "meters": []}
    for panel in theirs:
        panels[panel.get("name")]["meters"] += [
            {**taken_meter(meter, limited_here), **written.get(meter.get("code"), {})}
            for meter in listed(panel, "meters")
            if meter.get("code") not in dropped
        ]
    for panel in mine:
        panels[panel.get("name")]["meters"] += [
            meter for meter in listed(panel, "meters") if meter.get("code") not in known
        ]
    return list(panels.values())


def taken_meter(meter: Raw, limited_here: set[str]) -> Raw:
    """The other's meter without its normal values, and without limits if this file gives some."""
    kept = without_normals(meter)
    if meter.get("code") in limited_here:
        return {key: value for key, value in kept.items() if key not in ("warning", "alarm")}
    return kept


def taken_limits(own: Raw, base: Raw, dropped: list[str]) -> list[Raw]:
    """The other's limits for meters of which this one's file says nothing."""
    said = limited(own) | set(dropped)
    lines = []
    for limit in listed(base, "limits"):
        meters = [code for code in as_list(limit.get("meter")) if code not in said]
        if meters:
            lines.append({**limit, "meter": meters})
    return lines


def limited(own: Raw) -> set[str]:
    """The meters for which a transmitter's own table gives limits."""
    in_lines = {code for limit in listed(own, "limits") for code in as_list(limit.get("meter"))}
    on_meters = {
        code
        for code, meter in meters_of(listed(own, "panels")).items()
        if "warning" in meter or "alarm" in meter
    }
    return in_lines | on_meters


def as_list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]
