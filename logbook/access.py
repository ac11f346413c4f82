"""Who may correct what in the log; every page about an entry takes it from here."""

from django.core.exceptions import PermissionDenied

from logbook.models import Entry, Source
from logbook.queries import whole_entries
from logbook.whole import with_kinds
from station.access import may, own, roles_of
from station.models import Person


def may_correct(person: Person, entry: Entry) -> bool:
    """Only who wrote it, and the engineer in charge; what an instrument link read, nobody."""
    if not may(person, "correct") or entry.station_id != person.station_id:
        return False
    if entry.source == Source.LOGGER:
        return False
    return entry.by_id == person.pk or "engineer" in roles_of(person)


def entry_for(person: Person, no: int) -> Entry:
    """The entry of the person's own station with this number, or 404."""
    entry = own(person, whole_entries(), no=no)
    return with_kinds([entry])[0]


def correctable(person: Person, no: int) -> Entry:
    """The entry, if this person may correct it."""
    entry = entry_for(person, no)
    if not may_correct(person, entry):
        raise PermissionDenied
    return entry
