"""Writing a round of readings: one transaction, saved once, a second one kept as duplicate."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from logbook.bodies import round_body
from logbook.ledger import Body, Draft, append, lock
from logbook.models import Entry, Kind, Reading, Round, RoundKind
from logbook.reading_text import TypedReading
from logbook.services.saving import one_save, saved_before, says_the_same
from logbook.times import minute_of
from station.models import Meter, Person, Transmitter


@dataclass(frozen=True)
class RoundDraft:
    """A round as typed. ``typed`` holds the cells that are not blank, by meter;
    ``observed_at`` of a panel group overrides the round's own."""

    transmitter: Transmitter
    slot: datetime
    observed_at: datetime
    modulation: str
    typed: Mapping[Meter, TypedReading]
    kind: str = RoundKind.ROUTINE
    group_observed_at: Mapping[str, datetime] = field(default_factory=dict)
    client_key: str = ""
    in_place_of: Entry | None = None

    def minute_for(self, meter: Meter) -> int:
        return minute_of(self.group_observed_at.get(meter.panel_group, self.observed_at))


@dataclass(frozen=True)
class SavedRound:
    round: Round
    is_repeat: bool = False

    @property
    def is_duplicate(self) -> bool:
        return self.round.duplicate_of_id is not None


def record_round(draft: RoundDraft, *, by: Person, at: datetime) -> SavedRound:
    """Save a round. The same page sent twice gives the stored round; a second set for a slot,
    or the same key with other values, is kept as a duplicate that counts nowhere until chosen.
    """
    with one_save("round") as written:
        lock(draft.transmitter.station)
        known = saved_before(draft.transmitter.station, by, draft.client_key)
        if known and says_the_same(known, payload(draft)):
            return SavedRound(known.round, is_repeat=True)
        saved = write_round(draft, by=by, at=at, key="" if known else draft.client_key)
        written.append(saved.entry)
    return SavedRound(saved)


def write_round(draft: RoundDraft, *, by: Person, at: datetime, key: str) -> Round:
    """Append the entry and its rows; the caller holds the transaction."""
    row = Round(
        station=draft.transmitter.station,
        slot=draft.slot,
        kind=draft.kind,
        modulation=draft.modulation,
        duplicate_of=counting_round(draft.transmitter, draft.slot, draft.kind),
    )
    readings = [unsaved_reading(draft, meter, cell) for meter, cell in draft.typed.items()]
    row.entry = append(
        Draft(
            kind=Kind.ROUND,
            station=draft.transmitter.station,
            transmitter=draft.transmitter,
            observed_at=draft.observed_at,
            entered_at=at,
            by=by,
            body=round_body(row, readings),
            client_key=key,
            payload=payload(draft) if key else None,
            in_place_of=draft.in_place_of,
        )
    )
    row.save(force_insert=True)
    save_readings(row, readings)
    return row


def counting_round(transmitter: Transmitter, slot: datetime, kind: str) -> Round | None:
    """The routine round that already counts for this slot."""
    if kind != RoundKind.ROUTINE:
        return None
    return (
        Round.objects.filter(
            station=transmitter.station,
            slot=slot,
            kind=kind,
            duplicate_of__isnull=True,
            entry__transmitter=transmitter,
            entry__ended_by__isnull=True,
        )
        .select_related("entry")
        .first()
    )


def unsaved_reading(draft: RoundDraft, meter: Meter, cell: TypedReading) -> Reading:
    return Reading(
        station_id=draft.transmitter.station_id,
        meter=meter,
        minute=draft.minute_for(meter),
        **cell.columns(),
    )


def save_readings(row: Round, readings: Sequence[Reading]) -> None:
    """A duplicate's readings are born ended, so that they count nowhere."""
    for reading in readings:
        reading.round = row
        reading.ended_by = row.entry if row.duplicate_of_id else None
    Reading.objects.bulk_create(readings)


def payload(draft: RoundDraft) -> Body:
    """What the page sent, for telling a repeat from a second set."""
    readings = {
        meter.code: [draft.minute_for(meter), *cell.columns().values()]
        for meter, cell in draft.typed.items()
    }
    return {
        "transmitter": draft.transmitter.code,
        "slot": draft.slot.isoformat(),
        "kind": draft.kind,
        "modulation": draft.modulation,
        "readings": readings,
    }
