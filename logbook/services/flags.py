"""Writing what somebody did about a flag."""

from dataclasses import dataclass
from datetime import datetime

from logbook.bodies import flag_body
from logbook.ledger import Draft, append
from logbook.models import FlagAction, Kind
from logbook.services.saving import one_save
from station.models import Meter, Person


@dataclass(frozen=True)
class FlagDraft:
    """An action about the flag with this natural key, in the words that were shown.

    ``until``: to when it is shelved, None for the end of the shift; ``order_number``: of the work
    for which the meter is out of service.
    """

    rule: str
    meter: Meter
    first_no: int
    verb: str
    words: str
    comment: str = ""
    until: datetime | None = None
    order_number: str = ""


def record_flag_action(draft: FlagDraft, *, by: Person, at: datetime) -> FlagAction:
    transmitter = draft.meter.transmitter
    row = FlagAction(station=transmitter.station, **vars(draft))
    with one_save("flag action", transmitter.station) as written:
        row.entry = append(
            Draft(
                kind=Kind.FLAG,
                station=transmitter.station,
                transmitter=transmitter,
                observed_at=at,
                entered_at=at,
                by=by,
                body=flag_body(row),
            )
        )
        row.save(force_insert=True)
        written.append(row.entry)
    return row
