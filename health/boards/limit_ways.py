"""The limits of a meter that are in force, each with the way to the page that changes it."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _

from logbook.words import listed, wave_words
from station.models import Limit, Meter
from station.register.versions import LIMIT_COLUMNS


@dataclass(frozen=True)
class LimitWay:
    words: str
    address: str


def limit_ways(meter: Meter, reason: str) -> Iterator[LimitWay]:
    """The newest version under each set of conditions, then a new one; the reason goes along."""
    rows = Limit.objects.filter(station=meter.station_id, meter=meter).order_by("valid_from")
    newest = {tuple(getattr(row, name) for name in LIMIT_COLUMNS): row for row in rows}
    for row in newest.values():
        address = reverse("admin:station_limit_change", args=(row.pk,))
        yield LimitWay(named(meter, conditions(row)), f"{address}?{urlencode({'reason': reason})}")
    address = reverse("admin:station_limit_add")
    asked = urlencode({"meter": meter.pk, "reason": reason})
    yield LimitWay(named(meter, _("a new limit")), f"{address}?{asked}")


def named(meter: Meter, which: str) -> str:
    return _("%(meter)s: %(which)s") % {"meter": meter.label, "which": which}


def conditions(limit: Limit) -> str:
    """'on air, full power, 6105 kHz', 'everywhere'."""
    parts = [
        str(limit.get_state_display()) if limit.state else "",
        wave_words(limit.frequency_khz),
        "" if limit.power_kw is None else _("%(kw)g kW") % {"kw": limit.power_kw},
        str(limit.get_modulation_display()) if limit.modulation else "",
    ]
    return listed(filter(None, parts)) or _("everywhere")
