"""Who is in charge, and the hand-overs that nobody countersigned yet."""

from django.db.models import Exists, OuterRef, QuerySet

from logbook.models import DutyTaken, Handover
from station.models import Station


def duties(station: Station) -> QuerySet[DutyTaken]:
    """Every duty that was taken, the newest first."""
    return (
        DutyTaken.objects.filter(station=station, entry__ended_by__isnull=True)
        .select_related("entry__by", "of")
        .order_by("-entry__observed_at", "-entry__no")
    )


def open_handovers(station: Station) -> QuerySet[Handover]:
    """Those without a countersign, the oldest first."""
    taken = DutyTaken.objects.filter(of=OuterRef("pk"), entry__ended_by__isnull=True)
    return (
        Handover.objects.filter(~Exists(taken), station=station, entry__ended_by__isnull=True)
        .select_related("entry__by")
        .order_by("entry__no")
    )
