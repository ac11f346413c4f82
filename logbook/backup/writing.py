"""Writing a backup while people go on writing the log."""

import gzip
import hashlib
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import orjson
from django.db import connection, transaction

from logbook.backup.tables import (
    FORMAT,
    ROWS_IN_A_LINE,
    Model,
    as_json,
    backed_up,
    newest_migrations,
)
from logbook.ledger import head
from station.batches import batched
from station.models import Station

Progress = Callable[[float], None]


def write_backup(
    path: Path, *, at: datetime, progress: Progress = lambda share: None
) -> dict[str, Any]:
    """Write the file and return its first line; it stands under its name only when it is whole.

    Raises
    ------
    FileExistsError
        Where a file of that name is there already: a backup never takes another one's place.
    """
    if path.exists():
        raise FileExistsError(path)
    unfinished = path.with_name(f"{path.name}.unfinished")
    with open(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
        packing = gzip.GzipFile(fileobj=file, mode="wb", compresslevel=6, filename="")
        with packing as packed, snapshot():
            first = first_line(at)
            write_lines(packed, first, progress)
        file.flush()
        os.fsync(file.fileno())
    unfinished.rename(path)
    return first


@contextmanager
def snapshot() -> Iterator[None]:
    """One state of the whole database, which keeps no writer waiting."""
    if connection.vendor == "postgresql":
        with transaction.atomic():
            connection.cursor().execute(
                "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"
            )
            yield
        return
    # A plain BEGIN: Django's own would take the write lock.
    connection.cursor().execute("BEGIN")
    try:
        yield
    finally:
        connection.cursor().execute("ROLLBACK")


def first_line(at: datetime) -> dict[str, Any]:
    heads = {station.code: head(station) for station in Station.objects.order_by("code")}
    return {
        "format": FORMAT,
        "at": at.isoformat(),
        "migrations": newest_migrations(connection),
        "heads": {
            code: {"no": one.no, "digest": one.digest.hex()} for code, one in heads.items() if one
        },
    }


def write_lines(packed: gzip.GzipFile, first: dict[str, Any], progress: Progress) -> None:
    digest, counts = hashlib.sha256(), {}

    def write(line: dict[str, Any]) -> None:
        text = orjson.dumps(line) + b"\n"
        digest.update(text)
        packed.write(text)

    write(first)
    models = backed_up()
    for place, model in enumerate(models):
        table = model._meta.db_table
        write({"table": table, "columns": columns(model)})
        counts[table] = 0
        for rows in lines_of(model):
            write({"rows": rows})
            counts[table] += len(rows)
        progress((place + 1) / len(models))
    packed.write(orjson.dumps({"count": counts, "sha256": digest.hexdigest()}) + b"\n")


def columns(model: Model) -> list[str]:
    return [field.column for field in model._meta.local_concrete_fields]


def lines_of(model: Model) -> Iterator[list[list[Any]]]:
    names = [field.attname for field in model._meta.local_concrete_fields]
    rows = model._base_manager.order_by("pk").values_list(*names)
    for together in batched(rows.iterator(chunk_size=ROWS_IN_A_LINE), ROWS_IN_A_LINE):
        yield [[as_json(value) for value in row] for row in together]
