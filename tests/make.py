"""Rows for tests: each function makes what it needs and takes what the test says instead."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from logbook.models import Entry, Round, StateChange
from logbook.models.round import Mark
from logbook.reading_text import Scale, TypedReading, read_typed
from logbook.services.checks import record_check
from logbook.services.holds import record_hold
from logbook.services.interruptions import InterruptionDraft, record_interruption
from logbook.services.permits import record_permit
from logbook.services.rounds import RoundDraft, record_round
from logbook.services.states import StateDraft, record_state
from station.models import (
    Antenna,
    Instrument,
    Limit,
    Meter,
    Normal,
    Person,
    PowerLevel,
    RoundInterval,
    Socket,
    Stage,
    Station,
    Transmitter,
    Tube,
    TubeType,
    Wave,
)

COMMISSIONED_AT = datetime(2024, 1, 1, tzinfo=UTC)
SLOT = datetime(2026, 3, 2, 6, tzinfo=UTC)
"""The slot of a round, unless a test says another."""


def make_station(**over: Any) -> Station:
    values = {"code": "moor", "name": "Moor", "time_zone": "Europe/Vienna", **over}
    return Station.objects.get_or_create(code=values.pop("code"), defaults=values)[0]


def make_transmitter(**over: Any) -> Transmitter:
    """T1, read every hour on air, with one wave and its antenna and three powers by tap."""
    station = over.pop("station", None) or make_station()
    values = {"code": "T1", "name": "200 kW", "full_power_kw": 200.0, **over}
    transmitter = Transmitter.objects.create(station=station, **values)
    own = {"station": station, "transmitter": transmitter}
    for state in ("on_air", "reduced"):
        RoundInterval.objects.create(**own, state=state, minutes=60)
    for part in (0.4, 0.6, 1.0):
        PowerLevel.objects.create(**own, power_kw=transmitter.full_power_kw * part)
    make_wave(transmitter, 6105.0)
    return transmitter


def make_wave(transmitter: Transmitter, frequency_khz: float, **over: Any) -> Wave:
    station = transmitter.station
    antenna = over.pop("antenna", None) or make_antenna(station)
    return Wave.objects.create(
        station=station,
        transmitter=transmitter,
        frequency_khz=frequency_khz,
        antenna=antenna,
        **over,
    )


def make_antenna(station: Station, code: str = "A1", **over: Any) -> Antenna:
    values = {"low_khz": 5900.0, "high_khz": 26100.0, **over}
    return Antenna.objects.get_or_create(station=station, code=code, defaults=values)[0]


def make_meter(transmitter: Transmitter, code: str = "v1_anode_current", **over: Any) -> Meter:
    """A meter with its instrument; ``full_scale``, ``step`` and the like go to the instrument."""
    scale = {name: over.pop(name) for name in INSTRUMENT if name in over}
    order = over.pop("sheet_order", transmitter.meters.count() + 1)
    values = {
        "label": code.replace("_", " "),
        "quantity": "anode_current",
        "unit": "A",
        "decimals": 1,
        "panel_group": "Final",
        **over,
    }
    meter = Meter.objects.create(
        station=transmitter.station,
        transmitter=transmitter,
        code=code,
        sheet_order=order,
        **values,
    )
    make_instrument(meter, **scale)
    return meter


INSTRUMENT = ("scale_low", "full_scale", "lower_full_scale", "step", "class_percent", "scale_law")


def make_instrument(meter: Meter, **over: Any) -> Instrument:
    values = {"valid_from": COMMISSIONED_AT, "full_scale": 20.0, "step": 0.2, **over}
    return Instrument.objects.create(station=meter.station, meter=meter, **values)


def make_limit(meter: Meter, **over: Any) -> Limit:
    """Warning 11.6 to 13.2, alarm 10.8 to 14.0, everywhere, unless the test says otherwise."""
    values = {
        "low_alarm": 10.8,
        "low_warning": 11.6,
        "high_warning": 13.2,
        "high_alarm": 14.0,
        "advice": "Read again.",
        "valid_from": COMMISSIONED_AT,
        "reason": "commissioning",
        **over,
    }
    return Limit.objects.create(station=meter.station, meter=meter, **values)


def make_normal(meter: Meter, value: float, **over: Any) -> Normal:
    return Normal.objects.create(station=meter.station, meter=meter, value=value, **over)


def typed_for(meter: Meter, text: str) -> TypedReading:
    """A cell's text read as the page reads it."""
    instrument = meter.instruments.last()
    if instrument is None:
        return read_typed(text, None)
    return read_typed(text, Scale(instrument.scale_low, instrument.full_scale, meter.unit))


cell_of = typed_for


@pytest.fixture
def read_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    """What ``make_round`` writes was read twice: one round is enough for a flag."""

    def twice(meter: Meter, text: str) -> TypedReading:
        typed = typed_for(meter, text)
        is_number = typed.value is not None and not typed.bound and not typed.mark
        return replace(typed, mark=Mark.CONFIRMED) if is_number else typed

    monkeypatch.setattr("tests.make.cell_of", twice)


def make_round(by: Person, transmitter: Transmitter, values: dict[str, str], **over: Any) -> Round:
    """A saved round; ``values`` are typed texts by meter code."""
    slot = over.pop("slot", SLOT)
    observed_at = over.pop("observed_at", slot + timedelta(minutes=4))
    at = over.pop("at", observed_at + timedelta(minutes=3))
    meters = {meter.code: meter for meter in transmitter.meters.all()}
    draft = RoundDraft(
        transmitter=transmitter,
        slot=slot,
        observed_at=observed_at,
        modulation=over.pop("modulation", "on"),
        typed={meters[code]: cell_of(meters[code], text) for code, text in values.items()},
        **over,
    )
    return record_round(draft, by=by, at=at).round


def make_state(by: Person, transmitter: Transmitter, **over: Any) -> StateChange:
    """On air at full power on the first wave from an hour before the usual slot."""
    observed_at = over.pop("observed_at", SLOT - timedelta(hours=1))
    at = over.pop("at", observed_at + timedelta(minutes=1))
    if not over:
        wave = transmitter.waves.select_related("antenna").first()
        over = {
            "state": "on_air",
            "frequency_khz": wave.frequency_khz,
            "antenna": wave.antenna,
            "power_kw": transmitter.full_power_kw,
            "set_by": "tap",
            "is_retune": True,
        }
    draft = StateDraft(transmitter=transmitter, observed_at=observed_at, **over)
    return record_state(draft, by=by, at=at)


def make_interruption(by: Person, *transmitters: Transmitter, **over: Any) -> Entry:
    """The station's own, of unknown cause, ten minutes past the usual slot."""
    begin = over.pop("begin", SLOT + timedelta(minutes=10))
    at = over.pop("at", begin + timedelta(minutes=1))
    facts = {"loss_source": "own", "cause": "unknown", **over}
    return record_interruption(InterruptionDraft(transmitters, begin, facts), by=by, at=at)[0]


def make_permit(by: Person, transmitter: Transmitter, **over: Any) -> Entry:
    """Number 12, one earth stick out, twenty minutes past the usual slot."""
    observed_at = over.pop("observed_at", SLOT + timedelta(minutes=20))
    at = over.pop("at", observed_at + timedelta(minutes=1))
    facts = {"number": "12", "holder": "R. Ekstam", "authorised_by": "S. Falkner", "earths": 1}
    facts |= {"work": "hose changed", **over}
    return record_permit(transmitter, facts, observed_at=observed_at, by=by, at=at)


def make_hold(by: Person, **over: Any) -> Entry:
    """The day of the usual slot, for a claim."""
    facts = {"since": SLOT.date(), "until": SLOT.date(), "reason": "claim", "reference": "C-7"}
    return record_hold(by.station, {**facts, **over}, by=by, at=SLOT + timedelta(minutes=30))


def make_light_fault(by: Person, **over: Any) -> Entry:
    """A tower light that failed half an hour past the usual slot."""
    facts = {"result": "not-good", "light": "mast 2"}
    return make_check(by, "tower-lights", facts, at=SLOT + timedelta(minutes=31), **over)


def make_check(
    by: Person,
    topic: str,
    facts: dict[str, Any],
    transmitter: Transmitter | None = None,
    **over: Any,
) -> Entry:
    """A test or a look round half an hour past the usual slot; without a transmitter of the whole
    station."""
    observed_at = over.pop("observed_at", SLOT + timedelta(minutes=30))
    at = over.pop("at", observed_at + timedelta(minutes=1))
    columns = {"topic": topic, "facts": facts, **over}
    return record_check(by.station, transmitter, columns, by=by, observed_at=observed_at, at=at)


def make_tube(transmitter: Transmitter, serial: str, code: str = "F200", **over: Any) -> Tube:
    """A tube of a type of 11 000 h, on the shelf since 2025."""
    station = transmitter.station
    facts = {
        "filament_voltage_v": 12.0,
        "filament_minimum_v": 11.4,
        "filament_maximum_v": 12.6,
        "rated_life_h": 11_000,
        "lead_time_days": 274,
    }
    kind, _new = TubeType.objects.get_or_create(station=station, code=code, defaults=facts)
    values = {"received_on": date(2025, 1, 1), **over}
    return Tube.objects.create(station=station, tube_type=kind, serial=serial, **values)


def make_sockets(transmitter: Transmitter) -> tuple[Socket, Socket]:
    """V1 and V2 of the final, which take type F200, with one counter for both."""
    station = transmitter.station
    stage = Stage.objects.create(
        station=station, transmitter=transmitter, code="final", name="Final"
    )
    kind = TubeType.objects.get(station=station, code="F200")
    sockets = [
        Socket.objects.create(station=station, stage=stage, code=code) for code in ("V1", "V2")
    ]
    for socket in sockets:
        socket.fits.add(kind)
    make_meter(
        transmitter,
        "filament_hours",
        quantity="hours",
        unit="h",
        counts="filament",
        stage=stage,
        full_scale=99_999.9,
        step=0.1,
        scale_law="counter",
    )
    return sockets[0], sockets[1]


@pytest.fixture
def station(db: None) -> Station:
    return make_station()


@pytest.fixture
def transmitter(station: Station) -> Transmitter:
    return make_transmitter(station=station)


@pytest.fixture
def meter(transmitter: Transmitter) -> Meter:
    """The anode current of V1, with its instrument and without limits."""
    return make_meter(transmitter)


@pytest.fixture
def furnished(engineer: Person, transmitter: Transmitter, meter: Meter) -> dict[str, Any]:
    """A station with a state, limits and a round, and a good word for each part of an address."""
    make_limit(meter)
    make_state(engineer, transmitter)
    entry = make_round(engineer, transmitter, {meter.code: "15"}).entry
    make_tube(transmitter, "A-1")
    make_sockets(transmitter)
    loss = make_interruption(engineer, transmitter)
    permit = make_permit(engineer, transmitter)
    hold = make_hold(engineer)
    fault = make_light_fault(engineer)
    good = {
        "hold": str(hold.no),
        "fault": str(fault.no),
        "topic": "load-test",
        "look": "weather",
        "permit": str(permit.no),
        "loss": str(loss.no),
        "code": transmitter.code,
        "no": str(entry.no),
        "day": f"{SLOT:%Y-%m-%d}",
        "month": f"{SLOT:%Y-%m}",
        "monday": f"{SLOT:%Y-%m-%d}",
        "meter": meter.code,
        "serial": "A-1",
        "rule": "limit-high",
        "name": "pair-departure",
        "first_no": str(entry.no),
        "slot": f"{SLOT:%Y-%m-%dT%H:%MZ}",
    }
    return {"engineer": engineer, "transmitter": transmitter, "good": good}
