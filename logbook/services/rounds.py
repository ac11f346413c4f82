"""Writing a round of readings: one transaction, saved once, a second one kept as duplicate."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import QuerySet

from logbook.bodies import round_body
from logbook.inserts import ReadingRow, insert_models, insert_readings
from logbook.ledger import Body, Draft, append, payload_digest
from logbook.models import Entry, Kind, Round, RoundKind, Source
from logbook.reading_text import TypedReading
from logbook.services.saving import one_save, saved_before, says_the_same
from logbook.times import minute_of
from station.models import Meter, Person, Transmitter
from station.prepared import Prepared


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
    paper_sheet: str = ""

    def minute_for(self, meter: Meter) -> int:
        return minute_of(self.group_observed_at.get(meter.panel_group, self.observed_at))

    def readings(self) -> list[ReadingRow]:
        return [
            ReadingRow(meter, self.minute_for(meter), **cell.columns())
            for meter, cell in self.typed.items()
        ]


@dataclass(frozen=True)
class SavedRound:
    round: Round
    is_repeat: bool = False


def record_round(draft: RoundDraft, *, by: Person, at: datetime) -> SavedRound:
    """Save a round. The same page sent twice gives the stored round; a second set for a slot,
    or the same key with other values, is kept as a duplicate that counts nowhere until chosen.
    """
    with one_save("round", draft.transmitter.station) as written:
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
        paper_sheet=draft.paper_sheet,
        duplicate_of=counting_round(draft.transmitter, draft.slot, draft.kind),
    )
    readings = draft.readings()
    row.entry = append(
        Draft(
            kind=Kind.ROUND,
            station=draft.transmitter.station,
            transmitter=draft.transmitter,
            observed_at=draft.observed_at,
            entered_at=at,
            by=by,
            body=round_body(row, readings),
            source=Source.PAPER if draft.paper_sheet else Source.PERSON,
            client_key=key,
            sent=payload_digest(payload(draft)) if key else None,
            in_place_of=draft.in_place_of,
        )
    )
    insert_models(Round, [row])
    insert_readings([(row, readings)])
    return row


def counting_round(transmitter: Transmitter, slot: datetime, kind: str) -> Round | None:
    """The routine round that already counts for this slot."""
    if kind != RoundKind.ROUTINE:
        return None
    found = COUNTING.rows(transmitter.station_id, slot, transmitter.pk)
    return Round.objects.select_related("entry").get(pk=found[0][0]) if found else None


def counting_keys(station_id: int, slot: datetime, transmitter_id: int) -> QuerySet[Round]:
    return Round.objects.filter(
        station=station_id,
        slot=slot,
        kind=RoundKind.ROUTINE,
        duplicate_of=None,
        entry__transmitter=transmitter_id,
        entry__ended_by=None,
    ).values_list("pk")[:1]


COUNTING = Prepared(counting_keys, int, datetime, int)


def payload(draft: RoundDraft) -> Body:
    """What the page sent, for telling a repeat from a second set."""
    return payload_of(draft.transmitter, draft.slot, draft.kind, draft.modulation, draft.readings())


def payload_of(
    transmitter: Transmitter,
    slot: datetime,
    kind: str,
    modulation: str,
    readings: Iterable[ReadingRow],
) -> Body:
    return {
        "transmitter": transmitter.code,
        "slot": slot.isoformat(),
        "kind": kind,
        "modulation": modulation,
        "readings": {meter.code: columns for meter, *columns in readings},
    }
