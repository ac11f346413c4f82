"""Writing an entry of a kind whose body is just its columns."""

from datetime import datetime

from logbook.bodies import plain_body
from logbook.ledger import Body, Draft, append, payload_digest
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
    key: str = "",
    sent: Body | None = None,
) -> Entry:
    """Append ``row``, whose station is set, with its entry; the caller holds the station's lock.

    ``key`` and ``sent`` are the page's own key and what it sent, where a repeat must be known.
    """
    row.entry = append(
        Draft(
            kind=kind,
            station=row.station,
            transmitter=transmitter,
            observed_at=observed_at,
            entered_at=at,
            by=by,
            body=plain_body(row),
            client_key=key,
            sent=payload_digest(sent) if key and sent else None,
        )
    )
    row.save(force_insert=True)
    return row.entry
