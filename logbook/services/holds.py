"""Writing that days of the log are held, and that they are released."""

from datetime import datetime
from typing import Any

from logbook.models import Entry, Hold, Kind, Release
from logbook.services.plain import append_plain
from logbook.services.saving import one_save
from station.models import Person, Station


class AlreadyReleased(Exception):
    """The hold has its release: nothing was written."""


def record_hold(station: Station, facts: dict[str, Any], *, by: Person, at: datetime) -> Entry:
    """``facts`` are the columns of Hold."""
    with one_save("hold", station) as written:
        row = Hold(station=station, **facts)
        entry = append_plain(row, kind=Kind.HOLD, transmitter=None, observed_at=at, by=by, at=at)
        written.append(entry)
    return entry


def record_release(of: Hold, reference: str, *, by: Person, at: datetime) -> Entry:
    """
    Raises
    ------
    AlreadyReleased
        If somebody released it meanwhile.
    """
    with one_save("release", of.station) as written:
        if Release.objects.filter(of=of.entry, entry__ended_by__isnull=True).exists():
            raise AlreadyReleased
        row = Release(station=of.station, of=of.entry, reference=reference)
        entry = append_plain(
            row, kind=Kind.RELEASED, transmitter=None, observed_at=at, by=by, at=at
        )
        written.append(entry)
    return entry
