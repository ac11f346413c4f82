"""Writing a remark."""

from datetime import datetime

from logbook.bodies import remark_body
from logbook.ledger import Draft, append
from logbook.models import Entry, Kind, Remark
from logbook.services.saving import one_save
from station.models import Person, Station, Transmitter


def record_remark(
    text: str,
    *,
    station: Station,
    transmitter: Transmitter | None,
    observed_at: datetime,
    by: Person,
    at: datetime,
    about: Entry | None = None,
) -> Remark:
    with one_save("remark", station) as written:
        row = Remark(station=station, text=text, about=about)
        row.entry = append(
            Draft(
                kind=Kind.REMARK,
                station=station,
                transmitter=transmitter,
                observed_at=observed_at,
                entered_at=at,
                by=by,
                body=remark_body(row),
            )
        )
        row.save(force_insert=True)
        written.append(row.entry)
    return row
