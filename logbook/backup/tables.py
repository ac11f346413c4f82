"""Which tables a backup holds, in an order in which they can be filled; values as JSON has them."""

import json
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from typing import Any

from django.apps import apps
from django.contrib.auth.models import Group
from django.db import models
from django.db.migrations.recorder import MigrationRecorder

APPS = ("station", "logbook")
FORMAT = 1
ROWS_IN_A_LINE = 1000

Model = type[models.Model]


def backed_up() -> list[Model]:
    """Every table of a backup, those that others point at first."""
    mine = [
        model
        for app in APPS
        for model in apps.get_app_config(app).get_models(include_auto_created=True)
    ]
    return list(after_their_targets([Group, *mine]))


def after_their_targets(wanted: Sequence[Model]) -> Iterator[Model]:
    done: set[Model] = set()
    while len(done) < len(wanted):
        ready = [model for model in wanted if model not in done and targets(model, wanted) <= done]
        done.update(ready)
        yield from ready


def targets(model: Model, among: Sequence[Model]) -> set[Model]:
    fields = model._meta.local_concrete_fields
    found = {field.related_model for field in fields if field.related_model}
    return {one for one in found if one in among and one is not model}


def newest_migrations(connection: Any) -> dict[str, str]:
    """The newest applied migration of each app whose tables are backed up."""
    applied = MigrationRecorder(connection).applied_migrations()
    return {app: max(name for label, name in applied if label == app) for app in APPS}


def as_json(value: Any) -> Any:
    """A value of a row; instants in UTC and bytes as text, everything else as it is."""
    if isinstance(value, datetime | date):
        return value.isoformat()
    return bytes(value).hex() if isinstance(value, bytes | memoryview) else value


def from_json(field: models.Field) -> Callable[[Any], Any] | None:
    """How a field's value is read back; None where it is the same."""
    if isinstance(field, models.DateTimeField):
        return datetime.fromisoformat
    if isinstance(field, models.DateField):
        return date.fromisoformat
    if isinstance(field, models.BinaryField):
        return bytes.fromhex
    return json.dumps if isinstance(field, models.JSONField) else None
