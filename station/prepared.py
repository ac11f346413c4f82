"""Queries that every page and save asks: built by the ORM once, then sent again as they are.

Building and compiling such a query costs several times its execution (see the storage benchmark).
"""

from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from typing import Any

from django.db import connection, models

STAND_INS = {
    int: lambda place: -(place + 1_000_001),
    datetime: lambda place: datetime(1000 + place, 1, 1, tzinfo=UTC),
}


class Prepared:
    """A query of values whose parameters are of the given kinds, in the order of ``build``."""

    def __init__(self, build: Callable[..., models.QuerySet], *kinds: type) -> None:
        self.build = build
        self.kinds = kinds
        self.compiled: dict[str, tuple[Any, str, list[Any]]] = {}

    def rows(self, *values: Any) -> list[tuple[Any, ...]]:
        """The rows for these values, converted as the ORM would."""
        compiler, sql, places = self.compiled_here()
        given = [adapted(value) for value in values]
        parameters = [given[place] if is_place else place for is_place, place in places]
        with connection.cursor() as cursor:
            cursor.execute(sql, parameters)
            fetched = cursor.fetchall()
        converters = compiler.get_converters([one[0] for one in compiler.select])
        return converted(fetched, converters.values(), list(converters)) if converters else fetched

    def compiled_here(self) -> tuple[Any, str, list[tuple[bool, Any]]]:
        """Compiler, statement and its parameters: a place in ``values`` or a constant."""
        if connection.vendor not in self.compiled:
            stand_ins = [STAND_INS[kind](place) for place, kind in enumerate(self.kinds)]
            compiler = self.build(*stand_ins).query.get_compiler(connection=connection)
            sql, parameters = compiler.as_sql()
            known = [adapted(value) for value in stand_ins]
            places = [
                (True, known.index(one)) if one in known else (False, one) for one in parameters
            ]
            self.compiled[connection.vendor] = compiler, sql, places
        return self.compiled[connection.vendor]


def converted(
    rows: list[tuple[Any, ...]], converters: Iterable[tuple[list[Any], Any]], columns: list[int]
) -> list[tuple[Any, ...]]:
    """The rows with each different value of a column converted once: instants repeat."""
    for column, (steps, expression) in zip(columns, converters, strict=True):
        known: dict[Any, Any] = {}
        for value in {row[column] for row in rows}:
            known[value] = value
            for step in steps:
                known[value] = step(known[value], expression, connection)
        rows = [(*row[:column], known[row[column]], *row[column + 1 :]) for row in rows]
    return rows


def adapted(value: Any) -> Any:
    """A parameter as the driver takes it."""
    if isinstance(value, datetime):
        return connection.ops.adapt_datetimefield_value(value)
    return value
