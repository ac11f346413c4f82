"""The shape in which the analysis hands its flags to a sheet through the port."""

from dataclasses import dataclass
from datetime import datetime

from station.models import Meter


@dataclass(frozen=True)
class FlagRemark:
    meter: Meter
    since: datetime
    until: datetime | None
    priority: str
    words: str
