"""Any change of any column of any entry or reading is found, whatever kind of entry it is."""

from collections.abc import Iterator
from datetime import date, timedelta
from random import Random
from typing import Any

import pytest
import time_machine
from django.db import IntegrityError, connection, models, transaction

from logbook import triggers
from logbook.models import Entry, Kind, Reading, SignatureScope
from logbook.models.entry import LogRow
from logbook.reading_text import read_typed
from logbook.services.checks import record_check, record_repair
from logbook.services.corrections import correct_values, void_entry
from logbook.services.duty import record_duty, record_handover
from logbook.services.flags import FlagDraft, record_flag_action
from logbook.services.holds import record_release
from logbook.services.interruptions import record_restoration
from logbook.services.meters import MeterDraft, record_meter_change
from logbook.services.permits import record_return
from logbook.services.remarks import record_remark
from logbook.services.signatures import record_signature
from logbook.services.tubes import TubeDraft, record_tube_moves
from logbook.verification import verify_station
from station.models import CoilSet, Instrument, Person, Station
from tests.make import (
    SLOT,
    make_antenna,
    make_hold,
    make_interruption,
    make_light_fault,
    make_meter,
    make_permit,
    make_round,
    make_sockets,
    make_state,
    make_transmitter,
    make_tube,
    typed_for,
)
from tests.people import make_person, signed_in

DRAWS = 200
SEED = 20260302
NOW = SLOT + timedelta(hours=3)
# Keys hold rows together and say nothing: a row under another one's key is no row of its entry.
KEYS = {"id", "entry"}

pytestmark = pytest.mark.django_db


@pytest.fixture
def log(shift: Person, engineer: Person, station: Station) -> Iterator[Station]:
    """A log with an entry of every kind, and another station beside it."""
    with time_machine.travel(NOW, tick=False):
        write_every_kind(shift, engineer, station)
        elsewhere = Station.objects.create(code="elsewhere", name="Elsewhere")
        make_transmitter(station=elsewhere, code="T9")
        make_person("stranger", "shift", station=elsewhere)
        yield station


def write_every_kind(shift: Person, engineer: Person, station: Station) -> None:
    t1 = make_transmitter(station=station)
    t2 = make_transmitter(station=station, code="T2")
    make_antenna(station, "A2")
    for code in ("1", "2"):
        CoilSet.objects.create(station=station, transmitter=t1, code=code)
    current, power = make_meter(t1), make_meter(t1, "forward_power", unit="kW", full_scale=250.0)
    by = {"by": shift, "at": NOW}
    seen = {"observed_at": NOW, **by}
    make_state(shift, t1)
    first = make_round(shift, t1, {current.code: "12.4", power.code: ">200"}, client_key="k-1")
    make_round(shift, t1, {current.code: "14.2"})  # a duplicate
    typed = {current: typed_for(current, "12.6"), power: read_typed("/", None)}
    correct_values(first, typed, reason="misread", **by)
    struck = make_round(shift, t1, {current.code: "1"}, slot=SLOT + timedelta(hours=1))
    void_entry(struck.entry, reason="wrong set", **by)
    record_remark("quiet", station=station, transmitter=t1, about=first.entry, **seen)
    flag = FlagDraft("limit-high", current, first.entry.no, "acknowledge", "high", "seen")
    record_flag_action(flag, **by)
    tubes = [make_tube(t1, "A-1"), make_tube(t1, "A-2")]
    places = zip(tubes, make_sockets(t1), strict=True)
    moves = [TubeDraft(tube, None, socket) for tube, socket in places]
    record_tube_moves(station, moves, observed_at=NOW, **by)
    new = Instrument(
        station=station, meter=current, valid_from=NOW, full_scale=50.0, step=0.5, class_percent=1.5
    )
    record_meter_change(MeterDraft(current, NOW, new, old_last=12.0, new_first=12.5), **by)
    loss = make_interruption(shift, t1, power_kw=80.0, agreed_end=NOW, recycles=2)
    make_interruption(shift, t1, t2)
    ends = {"found": "arc", "mode": "trip", "mechanism": "arc", "repair_min": 4}
    record_restoration(loss.interruption, NOW, ends, **by)
    permit = make_permit(shift, t1)
    back = {"earths_back": 1, "seen_by": "J. Amsel", "note": ""}
    record_return(permit.permit, back, **seen)
    handover = record_handover(station, "as it stood", "oil", **by).handover
    record_duty(station, handover, qualification="Q-7", note="", by=engineer, at=NOW)
    release = make_hold(engineer)
    record_release(release.hold, "letter", by=engineer, at=NOW)
    columns = {"topic": "make-up", "facts": {"litres": 40.0, "source": "still"}}
    record_check(station, t1, {**columns, "before": first.entry}, **seen)
    fault = make_light_fault(shift)
    record_repair(fault.checkmade, {"done": "lamp"}, "", **seen)
    wave = {"frequency": "6105", "antenna": "A1", "coil_set": "1", "power": "200/tap"}
    times = {"day": "2026-03-02", "ht_off": "08:50", "rf_on": "08:55", "full_power": "08:56"}
    signed_in(shift).post("/log/T1/wave", {**wave, **times, "client_key": "k-2"})
    record_signature(station, SignatureScope.OWN, SLOT.date(), transmitter=t1, **by)
    make_state(shift, t1, state="standby", observed_at=NOW, at=NOW)


def rows_by_model() -> dict[type[LogRow], list[Any]]:
    return {model: list(model.objects.order_by("pk")) for model in triggers.log_models()}


def drawn_column(rng: Random, model: type[models.Model]) -> models.Field:
    fields = [field for field in model._meta.local_concrete_fields if field.name not in KEYS]
    return rng.choice(fields)


def other_value(rng: Random, field: models.Field, value: Any) -> Any:
    """Another value that the column can hold."""
    if isinstance(field, models.ForeignKey):
        others = field.related_model.objects.exclude(pk=value).values_list("pk", flat=True)
        return rng.choice([*others, *([None] if field.null and value is not None else [])])
    if isinstance(field, models.BooleanField):
        return not value
    if isinstance(field, models.JSONField):
        return {**value, "more": 1}
    if isinstance(field, models.BinaryField):
        return bytes(31) + b"\x01"
    if isinstance(field, models.DateTimeField):
        return NOW if value is None else value + timedelta(seconds=1)
    if isinstance(field, models.DateField):
        return date(2026, 3, 1) if value is None else value + timedelta(days=1)
    if isinstance(field, models.IntegerField | models.FloatField):
        return 7 if value is None else value + 1
    return "x" if value != "x" else "y"


def is_found(station: Station) -> bool:
    return bool(verify_station(station).breaks)


def test_every_kind_is_in_the_log(log: Station) -> None:
    assert {entry.kind for entry in Entry.objects.all()} == set(Kind.values)
    assert not is_found(log)


@pytest.mark.need(54)
def test_any_column_of_any_entry_or_reading(log: Station) -> None:
    """A change that the database itself refuses is drawn again: it was not made."""
    rng, made, missed = Random(SEED), 0, []
    rows = rows_by_model()
    with triggers.lifted(connection):
        while made < DRAWS:
            model = rng.choice([Entry, Reading, *rows])
            row, field = rng.choice(rows[model]), drawn_column(rng, model)
            value = other_value(rng, field, getattr(row, field.attname))
            try:
                with transaction.atomic():
                    model.objects.filter(pk=row.pk).update(**{field.attname: value})
                    connection.check_constraints()
                    made += 1
                    if not is_found(log):
                        missed.append((model.__name__, row.pk, field.name, value))
                    transaction.set_rollback(True)
            except IntegrityError:
                continue
    assert missed == []
    assert not is_found(log)
