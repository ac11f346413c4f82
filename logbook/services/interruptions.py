"""Writing the begin and the end of an interruption."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from logbook.models import Entry, Interruption, Kind, Restoration
from logbook.services.plain import append_plain
from logbook.services.saving import one_save
from station.models import Person, Transmitter


class AlreadyRestored(Exception):
    """The interruption has its end: nothing was written."""


@dataclass(frozen=True)
class InterruptionDraft:
    """``facts`` are the columns of Interruption, all but ``part_of``."""

    transmitters: Sequence[Transmitter]
    begin: datetime
    facts: dict[str, Any]


def record_interruption(draft: InterruptionDraft, *, by: Person, at: datetime) -> list[Entry]:
    """One entry a transmitter; those after the first are parts of its event."""
    station = draft.transmitters[0].station
    first: Entry | None = None
    with one_save("interruption", station) as written:
        for transmitter in draft.transmitters:
            row = Interruption(station=station, part_of=first, **draft.facts)
            entry = append_plain(
                row,
                kind=Kind.INTERRUPTION,
                transmitter=transmitter,
                observed_at=draft.begin,
                by=by,
                at=at,
            )
            first = first or entry
            written.append(entry)
    return written


def record_restoration(
    of: Interruption, end: datetime, facts: dict[str, Any], *, by: Person, at: datetime
) -> Entry:
    """The end of one transmitter's interruption.

    Raises
    ------
    AlreadyRestored
        If somebody wrote its end meanwhile.
    """
    with one_save("end of interruption", of.station) as written:
        if Restoration.objects.filter(of=of.entry, entry__ended_by__isnull=True).exists():
            raise AlreadyRestored
        row = Restoration(station=of.station, of=of.entry, **facts)
        transmitter = of.entry.transmitter
        entry = append_plain(
            row, kind=Kind.RESTORED, transmitter=transmitter, observed_at=end, by=by, at=at
        )
        written.append(entry)
    return entry
