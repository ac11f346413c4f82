"""A round read anew from what stands: for writing it under another transmitter, slot or time."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from logbook.cells import stands_in
from logbook.models import Reading, Round
from logbook.reading_text import TypedReading
from logbook.services.rounds import RoundDraft
from logbook.times import instant_of
from station.models import Meter, Transmitter


def standing_readings(row: Round) -> list[Reading]:
    """What a round says now, in the order of the sheet; of a duplicate, what it said."""
    readings = row.readings.select_related("meter").order_by("meter__sheet_order")
    return [reading for reading in readings if stands_in(row, reading)]


def without_a_place(row: Round, transmitter: Transmitter) -> list[Meter]:
    """The meters read in a round for which another transmitter has none of the same code."""
    places = meters_by_code(transmitter)
    return [r.meter for r in standing_readings(row) if r.meter.code not in places]


def draft_anew(
    row: Round,
    *,
    transmitter: Transmitter,
    slot: datetime,
    observed_at: datetime,
    modulation: str,
) -> RoundDraft:
    """The round with these facts in place of its own; panel groups keep their distance in time.

    Meters are carried over by their code; a reading whose meter has no place stays with the
    struck original alone.
    """
    places = meters_by_code(transmitter)
    moved = observed_at - row.entry.observed_at
    carried = {
        places[reading.meter.code]: reading
        for reading in standing_readings(row)
        if reading.meter.code in places
    }
    return RoundDraft(
        transmitter=transmitter,
        slot=slot,
        observed_at=observed_at,
        modulation=modulation,
        typed={meter: typed_again(reading) for meter, reading in carried.items()},
        kind=row.kind,
        group_observed_at=group_instants(carried, moved),
        in_place_of=row.entry,
        paper_sheet=row.paper_sheet,
    )


def meters_by_code(transmitter: Transmitter) -> dict[str, Meter]:
    return {meter.code: meter for meter in transmitter.meters.all()}


def group_instants(carried: Mapping[Meter, Reading], moved: timedelta) -> dict[str, datetime]:
    instants: dict[str, datetime] = {}
    for meter, reading in carried.items():
        instants.setdefault(meter.panel_group, instant_of(reading.minute) + moved)
    return instants


def typed_again(reading: Reading) -> TypedReading:
    return TypedReading(
        value=reading.value,
        code=reading.code,
        bound=reading.bound,
        mark=reading.mark,
        text=reading.text,
    )
