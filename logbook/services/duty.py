"""Writing a hand-over, and taking the duty."""

from datetime import datetime

from logbook.models import DutyTaken, Entry, Handover, Kind
from logbook.services.plain import append_plain
from logbook.services.saving import one_save
from station.models import Person, Station


class NotTheSecondPerson(Exception):
    """Whoever wrote a hand-over cannot countersign it: nothing was written."""


class AlreadyTaken(Exception):
    """The hand-over was countersigned before: nothing was written."""


def record_handover(
    station: Station,
    assembled: str,
    notes: str,
    *,
    by: Person,
    at: datetime,
    unstaffed_until: datetime | None = None,
) -> Entry:
    row = Handover(
        station=station, assembled=assembled, notes=notes, unstaffed_until=unstaffed_until
    )
    with one_save("hand-over", station) as written:
        entry = append_plain(
            row, kind=Kind.HANDOVER, transmitter=None, observed_at=at, by=by, at=at
        )
        written.append(entry)
    return entry


def record_duty(
    station: Station,
    of: Handover | None,
    *,
    qualification: str,
    note: str,
    by: Person,
    at: datetime,
) -> Entry:
    """Take the duty, by countersigning a hand-over where there is one.

    Raises
    ------
    NotTheSecondPerson
        If the hand-over is the person's own, unless it left the station unstaffed.
    AlreadyTaken
        If somebody countersigned it meanwhile.
    """
    with one_save("duty", station) as written:
        if of is not None:
            if of.entry.by_id == by.pk and of.unstaffed_until is None:
                raise NotTheSecondPerson
            if DutyTaken.objects.filter(of=of.entry, entry__ended_by__isnull=True).exists():
                raise AlreadyTaken
        row = DutyTaken(
            station=station, of=of.entry if of else None, qualification=qualification, note=note
        )
        entry = append_plain(row, kind=Kind.DUTY, transmitter=None, observed_at=at, by=by, at=at)
        written.append(entry)
    return entry
