"""Any change of any column of any entry or reading is found, whatever kind of entry it is."""

from collections.abc import Iterator
from datetime import date, timedelta
from random import Random
from typing import Any

import pytest
import time_machine
from django.db import IntegrityError, connection, models, transaction

from logbook import triggers
from logbook.models import Entry, Kind, Reading
from logbook.models.entry import LogRow
from logbook.verification import verify_station
from station.models import Person, Station
from tests.every_kind import NOW, write_every_kind
from tests.make import make_transmitter
from tests.people import make_person

DRAWS = 200
SEED = 20260302
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
        return {"is": value, "more": 1}
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
