"""Rows into a table by the database's fastest way: COPY on PostgreSQL, executemany on SQLite.

The save of one round and the writing of many past entries share it.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from django.db import connection, models

from logbook.models import Reading, Round
from station.models import Meter

READING_COLUMNS = (
    *("station_id", "round_id", "ended_by_id", "meter_id", "minute"),
    *("value", "code", "bound", "mark", "text"),
)


class ReadingRow(NamedTuple):
    """One meter of a round as it is written; a blank cell has none."""

    meter: Meter
    minute: int
    value: float | None
    code: str = ""
    bound: str = ""
    mark: str = ""
    text: str = ""


def insert_readings(rounds: Iterable[tuple[Round, Sequence[ReadingRow]]]) -> None:
    """The readings of saved rounds."""
    insert(Reading, READING_COLUMNS, reading_rows(rounds))


def reading_rows(
    rounds: Iterable[tuple[Round, Sequence[ReadingRow]]],
) -> Iterator[tuple[Any, ...]]:
    """Rows in READING_COLUMNS; a duplicate's are born ended, so that they count nowhere."""
    for row, readings in rounds:
        of_round = row.station_id, row.pk, row.pk if row.duplicate_of_id else None
        for meter, *columns in readings:
            yield *of_round, meter.id, *columns


def insert_models(model: type[models.Model], rows: Sequence[models.Model]) -> None:
    """Insert unsaved rows; without keys of their own the table's default gives them."""
    has_keys = bool(rows) and rows[0].pk is not None
    fields = [
        field for field in model._meta.local_concrete_fields if has_keys or not field.primary_key
    ]
    columns = [prepared(field, [getattr(row, field.attname) for row in rows]) for field in fields]
    insert(model, [field.column for field in fields], zip(*columns, strict=True))


def prepared(field: models.Field, values: list[Any]) -> list[Any]:
    """The values as the driver takes them: only instants differ between the databases."""
    if isinstance(field, models.DateTimeField):
        return [connection.ops.adapt_datetimefield_value(value) for value in values]
    return values


def insert(
    model: type[models.Model], columns: Sequence[str], rows: Iterable[tuple[Any, ...]]
) -> None:
    """All rows by the database's fastest way; the only code here that differs by database."""
    names = ", ".join(f'"{column}"' for column in columns)
    table = f'"{model._meta.db_table}" ({names})'
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
        else:
            places = ", ".join(["%s"] * len(columns))
            cursor.executemany(f"INSERT INTO {table} VALUES ({places})", rows)
