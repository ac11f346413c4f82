"""Writing what was decided about an item of the week."""

from datetime import datetime
from typing import Any

from logbook.models import Kind, WeekDecision
from logbook.services.plain import append_plain
from logbook.services.saving import one_save
from station.models import Person, Transmitter


def record_decision(
    facts: dict[str, Any], *, transmitter: Transmitter | None, by: Person, at: datetime
) -> WeekDecision:
    """``facts`` are the columns of WeekDecision; without a transmitter it is about the station."""
    row = WeekDecision(station=by.station, **facts)
    with one_save("decision of the week", by.station) as written:
        entry = append_plain(
            row, kind=Kind.DECISION, transmitter=transmitter, observed_at=at, by=by, at=at
        )
        written.append(entry)
    return row
