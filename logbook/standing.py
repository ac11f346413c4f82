"""Where a transmitter stands at an instant, for a page."""

from datetime import datetime

from django.db.models import OuterRef

from logbook.frames import change_frame, last_stated
from logbook.models import Entry, StateChange
from logbook.points import OperatingPoint, intervals, point_at
from logbook.times import MINUTE, minute_of
from station.models import Station, Transmitter


def standing_at(
    transmitter: Transmitter, at: datetime, without: Entry | None = None
) -> OperatingPoint:
    """The operating point; ``without`` leaves out one entry, as if it had not been written."""
    changes = change_frame(transmitter, at, at + MINUTE, without=without)
    return point_at(intervals(changes), minute_of(at))


def states_at(station: Station, at: datetime) -> dict[int, str]:
    """The state of each transmitter at an instant, where the log says it: one query."""
    newest = last_stated(OuterRef("pk"), at + MINUTE)["last_state"]
    stood = Transmitter.objects.filter(station=station).annotate(last=newest).values("last")
    told = StateChange.objects.filter(pk__in=stood).values_list("transmitter_id", "state")
    return dict(told)
