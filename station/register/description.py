"""What a register file says, once read."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from station.register.faults import Fault
from station.register.rows import Row


@dataclass
class Description:
    """What a file says: the station, its rows, and the instants that it gives for versions."""

    station: dict[str, Any]
    valid_from: datetime | None = None
    rows: list[Row] = field(default_factory=list)
    versions_from: dict[str, datetime] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
