"""Restoring a backup into an empty database of either engine: all of it, proved, or nothing."""

import gzip
import hashlib
import zlib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import orjson
from django.contrib.auth.models import Group
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.utils.translation import gettext as _

from logbook.backup.tables import APPS, FORMAT, Model, backed_up, from_json
from logbook.inserts import insert, prepared
from logbook.models import Entry, StateChange
from logbook.verification import verify_station
from station.models import Person, Station

Progress = Callable[[float], None]

# Columns of a change of state that say once more what its entry says.
OF_THE_ENTRY = {"transmitter", "observed_at"}


class Unfit(Exception):
    """The file, or the database, cannot be used; the sentence says why and what to do."""


def restore(path: Path, *, progress: Progress = lambda share: None) -> dict[str, str]:
    """Fill the empty, migrated database from a file; returns the proved heads by station.

    A backup of an earlier release is taken as well: a table or column that it did not know yet
    is left empty or takes the default, since migrations only add to what is logged.

    Raises
    ------
    Unfit
        Nothing is written then.
    """
    refuse_what_is_there()
    lines = Lines(path, progress)
    first = lines.first()
    with transaction.atomic():
        Group.objects.all().delete()  # every migrated database has them, under keys of its own
        counts = fill(lines)
        lines.end(counts)
        set_sequences()
        return proved(first["heads"])


def refuse_what_is_there() -> None:
    if Station.objects.exists() or Person.objects.exists():
        raise Unfit(
            _(
                "This database is not empty, and a backup goes into an empty one: set DATA_DIR to "
                "a new folder, or DATABASE_URL to a new database."
            )
        )


class Lines:
    """The lines of a backup file, read once, their digest taken on the way."""

    def __init__(self, path: Path, progress: Progress) -> None:
        self.path, self.progress = path, progress
        self.digest = hashlib.sha256()
        self.closing: dict[str, Any] | None = None
        self.lines = self.read()

    def read(self) -> Iterator[dict[str, Any]]:
        size = self.path.stat().st_size
        try:
            with open(self.path, "rb") as file, gzip.open(file) as packed:
                for text in packed:
                    line = orjson.loads(text)
                    if "sha256" in line:
                        self.closing = line
                        return
                    self.digest.update(text)
                    self.progress(file.tell() / size)
                    yield line
        except (OSError, EOFError, zlib.error, orjson.JSONDecodeError) as error:
            raise Unfit(
                _("%(name)s is damaged or no backup (%(error)s): take another copy of it.")
                % {"name": self.path.name, "error": error}
            ) from error

    def first(self) -> dict[str, Any]:
        line = next(self.lines, {})
        if line.get("format") != FORMAT:
            raise Unfit(
                _("%(name)s is no backup that this release can read: its format is %(format)s.")
                % {"name": self.path.name, "format": line.get("format")}
            )
        known = MigrationLoader(None).disk_migrations
        for app in APPS:
            if (app, line["migrations"][app]) not in known:
                sentence = _(
                    "%(name)s was made by a later release (%(migration)s): restore it with that "
                    "release, or a later one."
                )
                facts = {"name": self.path.name, "migration": line["migrations"][app]}
                raise Unfit(sentence % facts)
        return line

    def end(self, counts: Mapping[str, int]) -> None:
        """Refuse a file that was cut, or is not what was written."""
        if self.closing is None:
            raise Unfit(_("%(name)s was cut: its last line is missing.") % {"name": self.path.name})
        is_same = self.closing["sha256"] == self.digest.hexdigest()
        if not is_same or self.closing["count"] != counts:
            raise Unfit(
                _("%(name)s is not what was written: its digest or its number of rows differs.")
                % {"name": self.path.name}
            )


def fill(lines: Lines) -> dict[str, int]:
    """Insert every row; returns how many by table."""
    tables = {model._meta.db_table: model for model in backed_up()}
    counts: dict[str, int] = {}
    insert_rows = None
    for line in lines.lines:
        if "table" in line:
            table = line["table"]
            if table not in tables:
                raise Unfit(_("The table %(name)s is not known here.") % {"name": table})
            insert_rows = inserter(tables[table], line["columns"])
            counts[table] = 0
        elif insert_rows is not None:
            insert_rows(line["rows"])
            counts[table] += len(line["rows"])
    return counts


def inserter(model: Model, names: list[str]) -> Callable[[list[list[Any]]], None]:
    """Inserts rows of the columns that the file has; those that came later take their default."""
    fields = {field.column: field for field in model._meta.local_concrete_fields}
    unknown = [name for name in names if name not in fields]
    if unknown:
        facts = {"table": model._meta.db_table, "names": ", ".join(unknown)}
        raise Unfit(_("The table %(table)s has no %(names)s here.") % facts)
    later = [field for name, field in fields.items() if name not in names]
    columns = [*names, *(field.column for field in later)]
    readers = [from_json(fields[name]) for name in names]
    key = names.index(model._meta.pk.column)

    def insert_rows(rows: list[list[Any]]) -> None:
        by_column = [
            prepared(fields[name], [value if value is None else read(value) for value in values])
            if read
            else values
            for name, read, values in zip(names, readers, zip(*rows, strict=True), strict=True)
        ]
        keys = [row[key] for row in rows]
        by_column += [values_of_later(model, field, keys) for field in later]
        insert(model, columns, zip(*by_column, strict=True))

    return insert_rows


def values_of_later(model: Model, field: models.Field, keys: list[Any]) -> list[Any]:
    """What rows say in a column that came after their backup: its default, or their entry's."""
    if model is StateChange and field.name in OF_THE_ENTRY:
        of_entry = dict(Entry.objects.filter(pk__in=keys).values_list("pk", field.attname))
        return prepared(field, [of_entry[key] for key in keys])
    return [field.get_default()] * len(keys)


def set_sequences() -> None:
    """The next row of each table takes a key that no restored one has."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), backed_up()):
            cursor.execute(statement)


def proved(heads: Mapping[str, Mapping[str, Any]]) -> dict[str, str]:
    """The digest of every station's last entry, once its whole chain was verified."""
    found = {}
    for station in Station.objects.order_by("code"):
        verified = verify_station(station)
        expected = heads.get(station.code, {}).get("digest", "")
        if verified.breaks or verified.head_digest != expected:
            sentence = _("The log of %(code)s in this file is broken: %(why)s")
            why = [one.why for one in verified.breaks] or [_("another digest than its first line")]
            raise Unfit(sentence % {"code": station.code, "why": "; ".join(map(str, why[:5]))})
        found[station.code] = verified.head_digest
    return found
