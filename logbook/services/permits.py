"""Noting that a permit was given out, and that it came back."""

from datetime import datetime
from typing import Any

from logbook.models import Entry, Kind, Permit, PermitReturn
from logbook.services.plain import append_plain
from logbook.services.saving import one_save
from station.models import Person, Transmitter


class AlreadyReturned(Exception):
    """The permit came back before: nothing was written."""


def record_permit(
    transmitter: Transmitter | None,
    facts: dict[str, Any],
    *,
    observed_at: datetime,
    by: Person,
    at: datetime,
) -> Entry:
    """``facts`` are the columns of Permit; without a transmitter they name an antenna."""
    row = Permit(station=by.station, **facts)
    with one_save("permit", by.station) as written:
        entry = append_plain(
            row, kind=Kind.PERMIT, transmitter=transmitter, observed_at=observed_at, by=by, at=at
        )
        written.append(entry)
    return entry


def record_return(
    of: Permit, facts: dict[str, Any], *, observed_at: datetime, by: Person, at: datetime
) -> Entry:
    """``facts`` are the columns of PermitReturn but ``of``.

    Raises
    ------
    AlreadyReturned
        If somebody wrote its return meanwhile.
    """
    with one_save("return of a permit", of.station) as written:
        if PermitReturn.objects.filter(of=of.entry, entry__ended_by__isnull=True).exists():
            raise AlreadyReturned
        row = PermitReturn(station=of.station, of=of.entry, **facts)
        transmitter = of.entry.transmitter
        entry = append_plain(
            row, kind=Kind.RETURNED, transmitter=transmitter, observed_at=observed_at, by=by, at=at
        )
        written.append(entry)
    return entry
