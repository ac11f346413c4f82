"""A register of twelve transmitters with 24 meters each, and years of hourly rounds."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from logbook.inserts import ReadingRow
from logbook.models import Source
from logbook.services.bulk import Past, past_round, past_state, write_past
from logbook.services.states import StateDraft
from logbook.times import minute_of
from station.models import Instrument, Limit, Meter, Person, Station, Transmitter

TRANSMITTERS, METERS = 12, 24
HOURS_IN_TEN_YEARS = 87_600
# Twice a day another of six waves, as a short-wave station does.
WAVE_HOURS = 12
WAVES_KHZ = (6105.0, 7265.0, 9690.0, 11850.0, 15375.0, 21560.0)
PIECE_HOURS = 2000
START = datetime(2016, 1, 1, tzinfo=UTC)
SEED = 20160101


@dataclass(frozen=True)
class Plant:
    station: Station
    transmitters: list[Transmitter]
    meters: dict[int, list[Meter]]
    by: Person


def build(transmitter_count: int = TRANSMITTERS, meter_count: int = METERS) -> Plant:
    station = Station.objects.create(code="bench", name="Bench")
    by = Person.objects.create_user("bench", station=station)
    transmitters = [add_transmitter(station, number + 1) for number in range(transmitter_count)]
    meters = {one.pk: add_meters(one, meter_count) for one in transmitters}
    return Plant(station, transmitters, meters, by)


def add_transmitter(station: Station, number: int) -> Transmitter:
    return Transmitter.objects.create(
        station=station,
        code=f"T{number}",
        name=f"Transmitter {number}",
        full_power_kw=200,
        sheet_order=number,
    )


def add_meters(transmitter: Transmitter, count: int) -> list[Meter]:
    meters = [
        Meter.objects.create(
            station=transmitter.station,
            transmitter=transmitter,
            code=f"anode_current_{number}",
            label=f"Anode current {number}",
            quantity="anode_current",
            unit="A",
            decimals=2,
            panel_group="final",
            sheet_order=number,
        )
        for number in range(1, count + 1)
    ]
    for meter in meters:
        own = {"station": transmitter.station, "meter": meter, "valid_from": START}
        Instrument.objects.create(**own, full_scale=20, step=0.02)
        Limit.objects.create(
            **own, low_alarm=8, low_warning=9, high_warning=15, high_alarm=16, reason="bench"
        )
    return meters


def write(plant: Plant, first: int, last: int) -> int:
    """Append the hours first <= hour < last, some months at a time: a transaction of years makes
    SQLite's own log slow. Returns how many rounds."""
    for begin in range(first, last, PIECE_HOURS):
        hours = range(begin, min(begin + PIECE_HOURS, last))
        write_past(plant.station, in_order(plant, hours))
    return (last - first) * len(plant.transmitters)


def in_order(plant: Plant, hours: range) -> Iterator[Past]:
    """The rounds of these hours, and each transmitter's change of wave before them."""
    every = len(plant.transmitters)
    for number, past in enumerate(rounds(plant, hours)):
        hour = hours[number // every]
        if hour % WAVE_HOURS == 0:
            yield wave_change(plant, past.draft.transmitter, hour)
        yield past


def wave_change(plant: Plant, transmitter: Transmitter, hour: int) -> Past:
    at = START + timedelta(hours=hour)
    wave = WAVES_KHZ[hour // WAVE_HOURS % len(WAVES_KHZ)]
    draft = StateDraft(transmitter, at, state="on_air", frequency_khz=wave, power_kw=200.0)
    return past_state(draft, by=plant.by, at=at, source=Source.PERSON)


def rounds(plant: Plant, hours: range) -> Iterator[Past]:
    """Hour by hour, every transmitter's round; values on the instrument's steps."""
    rng = np.random.default_rng([SEED, hours.start])
    shape = (len(plant.transmitters), len(plant.meters[plant.transmitters[0].pk]))
    for hour in hours:
        values = np.round(rng.normal(12.4, 0.3, shape) / 0.02) * 0.02
        for transmitter, row in zip(plant.transmitters, values.round(2).tolist(), strict=True):
            yield one_round(plant, transmitter, START + timedelta(hours=hour), row)


def one_round(plant: Plant, transmitter: Transmitter, slot: datetime, values: list[float]) -> Past:
    read_at = slot + timedelta(minutes=4)
    minute = minute_of(read_at)
    readings = [
        ReadingRow(meter, minute, value)
        for meter, value in zip(plant.meters[transmitter.pk], values, strict=True)
    ]
    return past_round(
        transmitter,
        readings,
        slot=slot,
        observed_at=read_at,
        modulation="on",
        by=plant.by,
        at=read_at + timedelta(minutes=3),
        source=Source.PERSON,
    )
