"""Where a transmitter stands at an instant, for a page."""

from datetime import datetime

from logbook.frames import standing_points
from logbook.points import OperatingPoint, point_at
from logbook.times import MINUTE, minute_of
from station.models import Transmitter


def standing_at(transmitter: Transmitter, at: datetime) -> OperatingPoint:
    return point_at(standing_points(transmitter, at, at + MINUTE), minute_of(at))
