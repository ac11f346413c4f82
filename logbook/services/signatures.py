"""Writing a signature."""

from datetime import date, datetime

from logbook.ledger import head
from logbook.models import Entry, Kind, Signature, SignatureScope
from logbook.services.plain import append_plain
from logbook.services.saving import one_save
from station.models import Person, Station, Transmitter


def record_signature(
    station: Station,
    scope: SignatureScope,
    day: date,
    *,
    transmitter: Transmitter | None,
    by: Person,
    at: datetime,
    left_open: list[dict[str, str]] | None = None,
) -> Entry:
    """Sign what the log holds now; ``transmitter`` of a day sheet, None for a week, of which
    ``left_open`` tells what its list still holds.

    The head is read under the station's lock, so that the signature follows it at once.
    """
    with one_save("signature", station) as written:
        last = head(station)
        assert last is not None, "an empty log has no page to be signed"
        row = Signature(station=station, scope=scope, day=day, left_open=left_open)
        row.up_to_no, row.digest = last.no, last.digest.hex()
        entry = append_plain(
            row, kind=Kind.SIGNED, transmitter=transmitter, observed_at=at, by=by, at=at
        )
        written.append(entry)
    return entry
