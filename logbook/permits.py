"""Which permits are out."""

from django.db.models import Exists, OuterRef, QuerySet

from logbook.models import Permit, PermitReturn
from station.models import Station, Transmitter


def open_permits(station: Station) -> QuerySet[Permit]:
    """Those that stand and were not given back, the oldest first; of antennas too."""
    returned = PermitReturn.objects.filter(of=OuterRef("pk"), entry__ended_by__isnull=True)
    return (
        Permit.objects.filter(~Exists(returned), station=station, entry__ended_by__isnull=True)
        .select_related("entry__transmitter", "antenna")
        .order_by("entry__observed_at", "entry__no")
    )


def open_permits_of(transmitter: Transmitter) -> QuerySet[Permit]:
    return open_permits(transmitter.station).filter(entry__transmitter=transmitter)
