"""Writing that another instrument hangs behind a meter; the register follows in the same save."""

from dataclasses import dataclass
from datetime import datetime

from logbook.bodies import meter_body
from logbook.ledger import Draft, append, payload_digest
from logbook.models import Kind, MeterChange
from logbook.models.meter_change import FACTS
from logbook.services.saving import one_save, saved_before, says_the_same
from station.models import Instrument, Meter, Person
from station.register.versions import newest_version, save_version
from station.signals import tell_limits_changed


@dataclass(frozen=True)
class MeterDraft:
    """``instrument`` is what hangs behind the meter from ``observed_at`` on, not saved yet."""

    meter: Meter
    observed_at: datetime
    instrument: Instrument
    old_last: float | None = None
    new_first: float | None = None
    note: str = ""
    client_key: str = ""

    def row(self) -> MeterChange:
        return MeterChange(
            station=self.meter.station,
            meter=self.meter,
            old_last=self.old_last,
            new_first=self.new_first,
            note=self.note,
            # As they are stored: the digest of 50 is not that of 50.0.
            **{
                name: MeterChange._meta.get_field(name).to_python(getattr(self.instrument, name))
                for name in FACTS
            },
        )


def record_meter_change(draft: MeterDraft, *, by: Person, at: datetime) -> MeterChange:
    """Save the change and the register's new version of the instrument.

    Every reading from that instant on is judged by the new scale. Takes for granted that the
    instant is later than the newest version's.
    """
    station, row = draft.meter.station, draft.row()
    payload = {"at": draft.observed_at.isoformat(), **meter_body(row)}
    with one_save("meter change", station) as written:
        known = saved_before(station, by, draft.client_key)
        if known and says_the_same(known, payload):
            return known.meterchange
        key = "" if known else draft.client_key
        row.entry = append(
            Draft(
                kind=Kind.METER,
                station=station,
                transmitter=draft.meter.transmitter,
                observed_at=draft.observed_at,
                entered_at=at,
                by=by,
                body=meter_body(row),
                client_key=key,
                sent=payload_digest(payload) if key else None,
            )
        )
        row.save(force_insert=True)
        save_version(draft.instrument, newest_version(draft.instrument))
        tell_limits_changed(draft.meter.transmitter, draft.observed_at)
        written.append(row.entry)
    return row
