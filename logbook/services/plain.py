"""Writing an entry of a kind whose body is just its columns."""

from datetime import datetime

from logbook.bodies import plain_body
from logbook.ledger import Draft, append
from logbook.models import Entry, Kind
from logbook.models.entry import EntryChild
from station.models import Person, Transmitter


def append_plain(
    row: EntryChild,
    *,
    kind: Kind,
    transmitter: Transmitter | None,
    observed_at: datetime,
    by: Person,
    at: datetime,
) -> Entry:
    """Append ``row``, whose station is set, with its entry; the caller holds the station's lock."""
    row.entry = append(
        Draft(
            kind=kind,
            station=row.station,
            transmitter=transmitter,
            observed_at=observed_at,
            entered_at=at,
            by=by,
            body=plain_body(row),
        )
    )
    row.save(force_insert=True)
    return row.entry
