"""How long the log is kept: nothing deletes it, and a hold says that nobody may ask for that."""

from datetime import date

from django.db.models import QuerySet

from logbook.models import Hold, Release
from station.models import Station


def holds(station: Station) -> QuerySet[Hold]:
    """The holds that stand and were not released, the oldest first."""
    released = Release.objects.filter(station=station, entry__ended_by__isnull=True)
    standing = Hold.objects.filter(station=station, entry__ended_by__isnull=True)
    unreleased = standing.exclude(entry__in=released.values("of"))
    return unreleased.select_related("entry").order_by("since", "entry__no")


def keep_from(station: Station, today: date) -> date:
    """The first day that must be kept by the station's years alone."""
    try:
        return today.replace(year=today.year - station.retention_years)
    except ValueError:  # 29 February
        return today.replace(year=today.year - station.retention_years, day=28)
