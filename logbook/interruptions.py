"""The interruptions that stand, each with its end where there is one."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Prefetch, Q

from logbook.models import Entry, Interruption, Kind, Restoration
from station.models import Station


@dataclass(frozen=True)
class Loss:
    """``end`` None: it is still open."""

    interruption: Interruption
    begin: datetime
    end: datetime | None

    @property
    def entry(self) -> Entry:
        return self.interruption.entry

    @property
    def length(self) -> timedelta | None:
        return None if self.end is None else self.end - self.begin


def losses(station: Station, since: datetime, until: datetime) -> list[Loss]:
    """Those that touch since <= t < until, by their begin; struck ones left out.

    Two queries: an end that was struck leaves its interruption open.
    """
    ends = Restoration.objects.filter(entry__ended_by__isnull=True).select_related("entry")
    ended_before = Q(
        entry__restorations__entry__ended_by__isnull=True,
        entry__restorations__entry__observed_at__lte=since,
    )
    rows = (
        Interruption.objects.filter(
            station=station,
            entry__kind=Kind.INTERRUPTION,
            entry__ended_by__isnull=True,
            entry__observed_at__lt=until,
        )
        .exclude(pk__in=Interruption.objects.filter(ended_before, station=station).values("pk"))
        .select_related("entry__transmitter", "part_of")
        .prefetch_related(Prefetch("entry__restorations", ends.select_related("of")))
        .order_by("entry__observed_at", "entry__no")
    )
    return [loss_of(row) for row in rows]


def loss_of(row: Interruption) -> Loss:
    ends = [end.entry.observed_at for end in row.entry.restorations.all()]
    return Loss(row, row.entry.observed_at, min(ends, default=None))
