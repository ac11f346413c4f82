"""A transmitter described as being like another, but for what its own table says.

Normal values are never taken over: they are each transmitter's own.
"""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from station.register.faults import Fault, not_among

Raw = dict[str, Any]
OWN_ALONE = ("normal", "valid_from")
BANDS = ("warning", "alarm")


def filled(transmitters: Mapping[str, Any], faults: list[Fault]) -> dict[str, Any]:
    """Every transmitter's table with what it takes from the one that it is like."""
    return {code: fill(code, transmitters, faults, ()) for code in transmitters}


def fill(code: str, given: Mapping[str, Any], faults: list[Fault], behind: tuple[str, ...]) -> Any:
    """``behind`` are those that are like this one, so that a circle is seen."""
    own = given[code]
    like = own.get("like") if isinstance(own, dict) else None
    if not isinstance(like, str):
        return own
    if like not in given or like in (code, *behind):
        faults.append(Fault(f"{code}.like", not_like(like, code, given)))
        return own
    base = fill(like, given, faults, (*behind, code))
    if not is_well_formed(base) or not is_well_formed(own):
        return own
    faults += [Fault(f"{code}.without", sentence) for sentence in not_there(own, base)]
    return merged(own, base)


def is_well_formed(raw: Any) -> bool:
    """Whether what is merged has its form; if not, the reader of the table complains of it."""
    if not isinstance(raw, dict):
        return False
    arrays = [raw.get(key, []) for key in ("panels", "limits", "waves")]
    arrays += [panel.get("meters", []) for panel in tables(raw, "panels")]
    return all(
        isinstance(array, list) and all(isinstance(one, dict) for one in array) for array in arrays
    )


def not_like(like: str, code: str, known: Mapping[str, Any]) -> str:
    if like in known:
        return _("%(code)s would be like itself: name another transmitter.") % {"code": code}
    return not_among(_("transmitter of this file"), like, [name for name in known if name != code])


def not_there(own: Raw, base: Raw) -> list[str]:
    known = meters_of(base)
    return [
        not_among(_("meter of the other transmitter"), code, known)
        for code in texts(own.get("without"))
        if code not in known
    ]


def merged(own: Raw, base: Raw) -> Raw:
    both = {**base, **own}
    if isinstance(base.get("stages"), dict) and isinstance(own.get("stages"), dict):
        both["stages"] = {**base["stages"], **own["stages"]}
    if "waves" not in own and "waves" in base:
        both["waves"] = [without_normals(wave) for wave in tables(base, "waves")]
    both["panels"] = merged_panels(own, base)
    both["limits"] = tables(own, "limits") + taken_limits(own, base)
    return both


def merged_panels(own: Raw, base: Raw) -> list[Raw]:
    """The other's panels in its order with this one's figures, then what is this one's alone."""
    written, known = meters_of(own), meters_of(base)
    limited_here, dropped = limited(own), texts(own.get("without"))
    both = [*tables(base, "panels"), *tables(own, "panels")]
    panels: dict[str, Raw] = {named(panel): {**panel, "meters": []} for panel in both}
    for panel in tables(base, "panels"):
        panels[named(panel)]["meters"] += [
            {**taken_meter(meter, limited_here), **written.get(coded(meter), {})}
            for meter in tables(panel, "meters")
            if coded(meter) not in dropped
        ]
    for panel in tables(own, "panels"):
        panels[named(panel)]["meters"] += [
            meter for meter in tables(panel, "meters") if coded(meter) not in known
        ]
    return list(panels.values())


def taken_meter(meter: Raw, limited_here: set[str]) -> Raw:
    """The other's meter without its normal values, and without limits if this file gives some."""
    kept = without_normals(meter)
    if coded(meter) in limited_here:
        return {key: value for key, value in kept.items() if key not in BANDS}
    return kept


def without_normals(raw: Raw) -> Raw:
    return {
        key: value
        for key, value in raw.items()
        if key not in OWN_ALONE and not key.endswith("normals")
    }


def taken_limits(own: Raw, base: Raw) -> list[Raw]:
    """The other's limits for meters of which this one's file says nothing."""
    said = limited(own) | set(texts(own.get("without")))
    lines = []
    for limit in tables(base, "limits"):
        meters = [code for code in texts(limit.get("meter")) if code not in said]
        if meters:
            lines.append({**limit, "meter": meters})
    return lines


def limited(own: Raw) -> set[str]:
    """The meters for which a transmitter's own table gives limits."""
    in_lines = {code for limit in tables(own, "limits") for code in texts(limit.get("meter"))}
    on_meters = {
        code for code, meter in meters_of(own).items() if any(band in meter for band in BANDS)
    }
    return in_lines | on_meters


def meters_of(raw: Raw) -> dict[str, Raw]:
    return {
        coded(meter): meter for panel in tables(raw, "panels") for meter in tables(panel, "meters")
    }


def tables(raw: Raw, key: str) -> list[Raw]:
    """The tables of an array; what is not one is left for the reader to complain of."""
    value = raw.get(key)
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def texts(value: Any) -> list[str]:
    values = value if isinstance(value, list) else [value]
    return [one for one in values if isinstance(one, str)]


def coded(meter: Raw) -> str:
    return str(meter.get("code"))


def named(panel: Raw) -> str:
    return str(panel.get("name"))
