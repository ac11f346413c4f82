"""Writing a test, a measurement, a look round, an adjustment, or the end of a fault."""

from datetime import datetime
from typing import Any

from logbook.models import CheckMade, Entry, Kind
from logbook.models.check import Topic
from logbook.services.plain import append_plain
from logbook.services.rounds import RoundDraft, write_round
from logbook.services.saving import one_save
from station.models import Person, Station, Transmitter


class AlreadyRepaired(Exception):
    """The fault has its end: nothing was written."""


def record_check(
    station: Station,
    transmitter: Transmitter | None,
    columns: dict[str, Any],
    *,
    readings: RoundDraft | None = None,
    observed_at: datetime,
    by: Person,
    at: datetime,
) -> Entry:
    """``columns`` are those of CheckMade; ``readings`` were taken with it and stand as a round."""
    with one_save("test or measurement", station) as written:
        if readings:
            after = write_round(readings, by=by, at=at, key="").entry
            written.append(after)
            columns = {**columns, "after": after}
        times = {"observed_at": observed_at, "at": at}
        row = CheckMade(station=station, **columns)
        written.append(append_plain(row, kind=Kind.CHECK, transmitter=transmitter, by=by, **times))
    return written[-1]


def record_repair(
    of: CheckMade,
    facts: dict[str, Any],
    note: str,
    *,
    observed_at: datetime,
    by: Person,
    at: datetime,
) -> Entry:
    """The end of a fault of the tower lights.

    Raises
    ------
    AlreadyRepaired
        If somebody wrote it meanwhile.
    """
    with one_save("repair", of.station) as written:
        if CheckMade.objects.filter(before=of.entry, entry__ended_by__isnull=True).exists():
            raise AlreadyRepaired
        row = CheckMade(
            station=of.station, topic=Topic.TOWER_REPAIR, facts=facts, before=of.entry, note=note
        )
        times = {"observed_at": observed_at, "at": at}
        written.append(append_plain(row, kind=Kind.CHECK, transmitter=None, by=by, **times))
    return written[-1]
