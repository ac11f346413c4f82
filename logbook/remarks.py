"""The shape in which the analysis hands its flags to a sheet through the port."""

from dataclasses import dataclass
from datetime import datetime

from station.models import Meter


@dataclass(frozen=True)
class FlagRemark:
    """``level`` names the status that draws its state, ``state`` says it in words; ``is_due``:
    the next shift must know of it.
    """

    meter: Meter
    since: datetime
    until: datetime | None
    priority: str
    words: str
    level: str = "open"
    state: str = ""
    is_due: bool = True
