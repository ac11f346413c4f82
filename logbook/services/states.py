"""Writing a change of state, wave, antenna, coil set or power."""

from dataclasses import dataclass
from datetime import datetime

from logbook.bodies import state_body
from logbook.ledger import Draft, append, payload_digest
from logbook.models import Entry, Kind, StateChange
from logbook.services.saving import one_save, saved_before, says_the_same
from station.models import Antenna, CoilSet, Person, Transmitter


@dataclass(frozen=True)
class StateDraft:
    """What changed; what is left empty did not change."""

    transmitter: Transmitter
    observed_at: datetime
    state: str = ""
    frequency_khz: float | None = None
    antenna: Antenna | None = None
    coil_set: CoilSet | None = None
    power_kw: float | None = None
    set_by: str = ""
    is_retune: bool = False
    is_estimated: bool = False
    reason: str = ""
    client_key: str = ""
    in_place_of: Entry | None = None

    def row(self) -> StateChange:
        return StateChange(
            station=self.transmitter.station,
            transmitter=self.transmitter,
            observed_at=self.observed_at.replace(microsecond=0),
            state=self.state,
            frequency_khz=self.frequency_khz,
            antenna=self.antenna,
            coil_set=self.coil_set,
            power_kw=self.power_kw,
            set_by=self.set_by,
            is_retune=self.is_retune,
            is_estimated=self.is_estimated,
            reason=self.reason,
        )


def record_state(draft: StateDraft, *, by: Person, at: datetime) -> StateChange:
    """Save a change of state; the same page sent twice gives the stored change."""
    payload = {"at": draft.observed_at.isoformat(), **state_body(draft.row())}
    with one_save("state", draft.transmitter.station) as written:
        known = saved_before(draft.transmitter.station, by, draft.client_key)
        if known and says_the_same(known, payload):
            return known.statechange
        saved = write_state(
            draft, by=by, at=at, key="" if known else draft.client_key, payload=payload
        )
        written.append(saved.entry)
    return saved


def write_state(
    draft: StateDraft, *, by: Person, at: datetime, key: str = "", payload: dict | None = None
) -> StateChange:
    """Append the entry and its row; the caller holds the transaction."""
    row = draft.row()
    row.entry = append(
        Draft(
            kind=Kind.STATE,
            station=draft.transmitter.station,
            transmitter=draft.transmitter,
            observed_at=draft.observed_at,
            entered_at=at,
            by=by,
            body=state_body(row),
            client_key=key,
            sent=payload_digest(payload) if key and payload else None,
            in_place_of=draft.in_place_of,
        )
    )
    row.save(force_insert=True)
    return row
