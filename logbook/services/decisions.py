"""Writing what was decided about items of the week."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from logbook.models import Kind, WeekDecision
from logbook.services.plain import append_plain
from logbook.services.saving import one_save
from station.models import Person, Transmitter


def record_decisions(
    decided: Iterable[tuple[Transmitter | None, dict[str, Any]]], *, by: Person, at: datetime
) -> list[WeekDecision]:
    """One entry for each transmitter with the columns of WeekDecision, all of them or none; without
    a transmitter it is about the station."""
    rows = []
    with one_save("decision of the week", by.station) as written:
        for transmitter, facts in decided:
            row = WeekDecision(station=by.station, **facts)
            entry = append_plain(
                row, kind=Kind.DECISION, transmitter=transmitter, observed_at=at, by=by, at=at
            )
            rows.append(row)
            written.append(entry)
    return rows
