"""Where a transmitter stands at an instant, for a page."""

from datetime import datetime

from logbook.frames import change_frame
from logbook.models import Entry
from logbook.points import OperatingPoint, intervals, point_at
from logbook.times import MINUTE, minute_of
from station.models import Transmitter


def standing_at(
    transmitter: Transmitter, at: datetime, without: Entry | None = None
) -> OperatingPoint:
    """The operating point; ``without`` leaves out one entry, as if it had not been written."""
    changes = change_frame(transmitter, at, at + MINUTE, without=without)
    return point_at(intervals(changes), minute_of(at))
