"""Writing a change of wave: its changes of state, its readings, and what joins them, in one."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from logbook.bodies import state_body
from logbook.models import Entry, Kind, WaveChange
from logbook.services.plain import append_plain
from logbook.services.rounds import RoundDraft, payload, write_round
from logbook.services.saving import one_save, saved_before, says_the_same
from logbook.services.states import StateDraft, write_state
from station.models import Person
from station.states import State


@dataclass(frozen=True)
class WaveDraft:
    """``began`` is how it stands from RF on; a round without readings is None.

    ``at_full`` is how it stands from full power on, None while that is not known.
    """

    began: StateDraft
    from_khz: float | None
    ht_off_at: datetime | None
    at_full: StateDraft | None
    as_found: RoundDraft | None
    as_left: RoundDraft | None
    deviations: str = ""
    note: str = ""
    client_key: str = ""

    def states(self) -> Iterator[StateDraft]:
        """In the order of time: HT off, RF on, full power."""
        transmitter = self.began.transmitter
        if self.ht_off_at:
            yield StateDraft(transmitter, self.ht_off_at, state=State.STANDBY)
        yield self.began
        if self.at_full:
            yield self.at_full

    def row(self, began: Entry, as_found: Entry | None, as_left: Entry | None) -> WaveChange:
        """What joins the entries of the change."""
        return WaveChange(
            station=self.began.transmitter.station,
            began=began,
            from_khz=self.from_khz,
            to_khz=self.began.frequency_khz,
            ht_off_at=self.ht_off_at,
            full_power_at=self.at_full.observed_at if self.at_full else None,
            as_found=as_found,
            as_left=as_left,
            deviations=self.deviations,
            note=self.note,
        )

    def payload(self) -> dict[str, Any]:
        """What the page sent, for telling a repeat from another change."""
        return {
            "at": self.began.observed_at.isoformat(),
            "ht_off_at": str(self.ht_off_at),
            "began": state_body(self.began.row()),
            "at_full": str(self.at_full.observed_at if self.at_full else None),
            "rounds": [payload(one) for one in (self.as_found, self.as_left) if one],
            "note": self.note,
        }


def record_wave_change(draft: WaveDraft, *, by: Person, at: datetime) -> Entry:
    """Save the whole change; the same page sent twice gives the stored one."""
    station = draft.began.transmitter.station
    with one_save("change of wave", station) as written:
        known = saved_before(station, by, draft.client_key)
        if known and says_the_same(known, draft.payload()):
            return known
        found = write_readings(draft.as_found, by, at)
        states = {one: write_state(one, by=by, at=at).entry for one in draft.states()}
        left = write_readings(draft.as_left, by, at)
        entry = append_plain(
            draft.row(states[draft.began], found, left),
            kind=Kind.WAVE,
            transmitter=draft.began.transmitter,
            observed_at=draft.began.observed_at,
            by=by,
            at=at,
            key="" if known else draft.client_key,
            sent=draft.payload(),
        )
        written.extend(one for one in (found, *states.values(), left, entry) if one)
    return entry


def write_readings(draft: RoundDraft | None, by: Person, at: datetime) -> Entry | None:
    return write_round(draft, by=by, at=at, key="").entry if draft else None
