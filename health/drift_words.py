"""The sentences that drifts show."""

from math import ceil, floor, log10

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from health.models import Drift
from health.rules.channels import Programme, Weather
from health.rules.consistency import (
    ABOVE_RAW,
    APPARENT,
    FEEDER,
    HEAT,
    HT_SUM,
    LEAKAGE,
    PAIR,
    REFLECTION,
    WITH_DRIVER,
)
from health.rules.sheets import DAY_MIN
from health.statistics.drift import TOLD_BELOW, Grain
from logbook.times import instant_of

DIGITS = 2
"""A slope is known to two figures at the best."""
HARDLY = 0.01
"""The part of a day by which a range is not widened to whole days."""


def drift_words(drift: Drift) -> str:
    """'HT voltage, carrier: -0.12 kV per 1000 h (-0.15 to -0.09); no reliable date'."""
    parts = (channel_words(drift), slope_words(drift), limit_words(drift))
    return _("%(what)s: %(slope)s; %(limit)s") % dict(
        zip(("what", "slope", "limit"), parts, strict=True)
    )


def slope_words(drift: Drift) -> str:
    """'+0.12 A per 1000 h (+0.09 to +0.15)'."""
    facts = {
        "slope": signed(drift.slope_per_1000h),
        "unit": drift.unit,
        "low": signed(drift.low),
        "high": signed(drift.high),
    }
    return _("%(slope)s %(unit)s per 1000 h (%(low)s to %(high)s)") % facts


def signed(value: float) -> str:
    """Two figures with their sign, never in powers of ten."""
    if value == 0:
        return "0"
    decimals = max(DIGITS - 1 - floor(log10(abs(value))), 0)
    return f"{value:+.{decimals}f}"


def limit_words(drift: Drift) -> str:
    """'comes to the alarm limit 14.0 A in 40 to 75 days', or why that is not said."""
    if drift.limit is None:
        return _("no alarm limit on that side")
    facts = {"limit": f"{drift.limit:.{drift.meter.decimals}f}", "unit": drift.meter.unit}
    if drift.days_low is None or drift.days_high is None:
        return _("alarm limit %(limit)s %(unit)s: no reliable date") % facts
    low, high = floor(drift.days_low + HARDLY), ceil(drift.days_high - HARDLY)
    if high == 0:
        return _("has come to the alarm limit %(limit)s %(unit)s") % facts
    words = ngettext(
        "comes to the alarm limit %(limit)s %(unit)s in %(low)s to %(high)s day",
        "comes to the alarm limit %(limit)s %(unit)s in %(low)s to %(high)s days",
        high,
    )
    return words % {**facts, "low": low, "high": high}


def evidence_words(drift: Drift) -> str:
    """What it stands on: its points, their begin, and how often chance does the same."""
    return _("%(points)s; %(since)s; p = %(p)s") % {
        "points": points_words(drift),
        "since": since_words(drift),
        "p": f"{drift.p:.3f}" if drift.p >= TOLD_BELOW / 10 else "< 0.001",
    }


def points_words(drift: Drift) -> str:
    """'12 points, each the mean of a week (80 days with a run)'."""
    facts = {"n": drift.points, "days": drift.days}
    if drift.grain == Grain.WEEK:
        return _("%(n)s points, each the mean of a week (%(days)s days with a run)") % facts
    return _("%(n)s points, each a day with a run") % facts


def since_words(drift: Drift) -> str:
    if drift.since is None:
        return _("since the first baseline")
    return _("since the change of a tube or an instrument on %(day)s") % {
        "day": instant_of(drift.since * DAY_MIN).date().isoformat()
    }


def channel_words(drift: Drift) -> str:
    """The meter's label with the relation, programme and weather that the channel is of."""
    told = (
        relation_words(drift.relation),
        {Programme.ON: _("on programme"), Programme.CARRIER: _("on carrier")}.get(drift.programme),
        {Weather.DRY: _("dry weather"), Weather.WET: _("wet weather")}.get(drift.weather),
    )
    return ", ".join([drift.meter.label, *(words for words in told if words)])


def relation_words(relation: str) -> str:
    """What several meters say together, as a change of it is told."""
    known = {
        PAIR: _("balance of the pair"),
        HT_SUM: _("total less its parts"),
        REFLECTION: _("reflected by forward power"),
        APPARENT: _("efficiency"),
        WITH_DRIVER: _("efficiency with the driver"),
        HEAT: _("heat in the water"),
        FEEDER: _("square of the feeder current by output"),
        LEAKAGE: _("leakage by conductivity"),
        ABOVE_RAW: _("less the share of the raw water"),
    }
    return known.get(relation, relation)
