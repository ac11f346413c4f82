"""The register's own rows, in the same form as a file's."""

from dataclasses import dataclass, field
from typing import Any

from django.db import models

from station.models import Commissioned, Station
from station.register.rows import KINDS, Kind, Row


@dataclass
class Stored:
    """The rows of a station in the register, and the instances behind them."""

    rows: dict[str, Row] = field(default_factory=dict)
    instances: dict[str, models.Model] = field(default_factory=dict)


def stored(station: Station) -> Stored:
    """Every row in force; of a versioned kind the newest version."""
    found = Stored()
    places: dict[tuple[str, int], str] = {}
    for kind in KINDS.values():
        for instance in instances_of(kind, station):
            row = Row(kind, values_of(instance, kind, places))
            places[kind.name, instance.pk] = row.place
            found.rows[row.place] = row
            found.instances[row.place] = instance
    return found


def instances_of(kind: Kind, station: Station) -> "models.QuerySet[Any]":
    rows = kind.model._default_manager.filter(station=station).prefetch_related(*kind.many)
    return rows.order_by("valid_from" if kind.is_versioned else "pk")


def values_of(
    instance: models.Model, kind: Kind, places: dict[tuple[str, int], str]
) -> dict[str, Any]:
    values = {name: getattr(instance, name) for name in kind.fields}
    for name, other in kind.references.items():
        values[name] = places.get((other, getattr(instance, f"{name}_id")))
    for name, other in kind.many.items():
        values[name] = sorted(places[other, one.pk] for one in getattr(instance, name).all())
    return values


def last_taken(station: Station) -> dict[str, dict[str, Any]]:
    """What the file said when it was last taken, by place."""
    last = Commissioned.objects.filter(station=station).last()
    return last.rows if last else {}
