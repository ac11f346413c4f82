"""Corrections: what was wrong is ended by an entry of its own and stays readable, struck."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from logbook.bodies import correction_body
from logbook.ledger import Draft, append
from logbook.models import Correction, Entry, Kind, Reading, Round, Source, StateChange
from logbook.models.correction import Scope
from logbook.reading_text import TypedReading
from logbook.services.rounds import RoundDraft, write_round
from logbook.services.saving import one_save
from logbook.services.states import StateDraft, write_state
from logbook.tube_log import refuse_conflict, written_together
from station.models import Meter, Person


class AlreadyEnded(Exception):
    """Somebody corrected this before; the page shows what stands now."""


def correct_values(
    of: Round, cells: Mapping[Meter, TypedReading], *, reason: str, by: Person, at: datetime
) -> Correction:
    """End the readings of these meters and bring the new ones; a blank cell brings none."""
    with one_save("correction", of.station) as written:
        refuse_ended(of.entry)
        assert of.duplicate_of_id is None, "a duplicate counts nowhere: it is chosen, not corrected"
        ended = list(current_readings(of, list(cells)))
        minutes = {reading.meter_id: reading.minute for reading in ended}
        brought = [
            Reading(
                station=of.station,
                meter=meter,
                round=of,
                minute=minutes.get(meter.pk, usual_minute(of)),
                **cell.columns(),
            )
            for meter, cell in cells.items()
            if not cell.is_blank
        ]
        correction = write_correction(
            of.entry, Scope.VALUES, reason, by=by, at=at, ended=ended, brought=brought
        )
        written.append(correction.entry)
    return correction


def current_readings(of: Round, meters: Sequence[Meter]) -> Sequence[Reading]:
    return (
        Reading.objects.current()
        .filter(station=of.station, round=of, meter__in=meters)
        .select_related("meter")
    )


def usual_minute(of: Round) -> int:
    """The minute of the round itself, for a value that was not read with the others."""
    from_round = of.readings.order_by("minute").values_list("minute", flat=True).first()
    return from_round if from_round is not None else int(of.entry.observed_at.timestamp() // 60)


def void_entry(of: Entry, *, reason: str, by: Person, at: datetime) -> Correction:
    """End a whole entry that should not have been written; nothing takes its place.

    Moves of tubes that one action wrote are ended together.

    Raises
    ------
    TubeConflict
        If the moves that are left contradict each other; nothing is ended then.
    """
    with one_save("correction", of.station) as written:
        refuse_ended(of)
        is_move = of.kind == Kind.TUBE
        others = [entry for entry in written_together(of) if entry != of] if is_move else []
        correction, *with_it = [
            end_entry(entry, Scope.VOID, reason, by=by, at=at) for entry in [of, *others]
        ]
        if is_move:
            refuse_conflict(of.station)
        written.extend(one.entry for one in [correction, *with_it])
    return correction


def write_round_anew(
    of: Round, draft: RoundDraft, *, reason: str, by: Person, at: datetime
) -> Round:
    """End a round with a wrong transmitter, slot or time, and write it anew as ``draft`` says."""
    with one_save("round written anew", of.station) as written:
        refuse_ended(of.entry)
        correction = end_entry(of.entry, Scope.ANEW, reason, by=by, at=at)
        anew = write_round(draft, by=by, at=at, key="")
        written.extend([correction.entry, anew.entry])
    return anew


def write_state_anew(
    of: StateChange, draft: StateDraft, *, reason: str, by: Person, at: datetime
) -> StateChange:
    """End a change of state and write it anew; every reading after it gets its new point."""
    with one_save("state written anew", of.station) as written:
        refuse_ended(of.entry)
        correction = end_entry(of.entry, Scope.ANEW, reason, by=by, at=at)
        anew = write_state(draft, by=by, at=at)
        written.extend([correction.entry, anew.entry])
    return anew


def choose_duplicate(duplicate: Round, *, reason: str, by: Person, at: datetime) -> Correction:
    """Let a duplicate's values count: the round that counted gets them by a correction."""
    counting = duplicate.duplicate_of
    assert counting is not None, "only a duplicate can be chosen"
    with one_save("choice between two rounds", duplicate.station) as written:
        refuse_ended(counting.entry)
        ended = list(counting.readings.current().select_related("meter"))
        brought = [copied(reading, counting) for reading in duplicate.readings.all()]
        correction = write_correction(
            counting.entry, Scope.CHOICE, reason, by=by, at=at, ended=ended, brought=brought
        )
        written.append(correction.entry)
    return correction


def copied(reading: Reading, to: Round) -> Reading:
    return Reading(
        station=to.station,
        meter=reading.meter,
        round=to,
        minute=reading.minute,
        value=reading.value,
        code=reading.code,
        bound=reading.bound,
        mark=reading.mark,
        text=reading.text,
    )


def refuse_ended(entry: Entry) -> None:
    assert entry.source != Source.LOGGER, "what an instrument link read is not corrected"
    entry.refresh_from_db(fields=["ended_by"])
    if entry.ended_by_id:
        raise AlreadyEnded(entry)


def end_entry(of: Entry, scope: Scope, reason: str, *, by: Person, at: datetime) -> Correction:
    """End an entry and, for a round, all of its readings that still count."""
    correction = write_correction(of, scope, reason, by=by, at=at, ended=[], brought=[])
    Entry.objects.filter(pk=of.pk).update(ended_by=correction.entry)
    Reading.objects.current().filter(station=of.station, round__entry=of).update(
        ended_by=correction.entry
    )
    return correction


def write_correction(
    of: Entry,
    scope: Scope,
    reason: str,
    *,
    by: Person,
    at: datetime,
    ended: Sequence[Reading],
    brought: Sequence[Reading],
) -> Correction:
    row = Correction(station=of.station, of=of, scope=scope, reason=reason)
    row.entry = append(
        Draft(
            kind=Kind.CORRECTION,
            station=of.station,
            transmitter=of.transmitter,
            observed_at=at,
            entered_at=at,
            by=by,
            body=correction_body(row, ended, brought),
        )
    )
    row.save(force_insert=True)
    Reading.objects.filter(pk__in=[reading.pk for reading in ended]).update(ended_by=row.entry)
    for reading in brought:
        reading.brought_by = row.entry
    Reading.objects.bulk_create(brought)
    return row
