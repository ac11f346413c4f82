"""The database itself refuses to change what was logged, whoever asks it."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management.sql import emit_post_migrate_signal, emit_pre_migrate_signal
from django.db import Error, connection, models, transaction

from logbook import triggers
from logbook.models import Entry, Reading, Round
from logbook.services.corrections import correct_values
from logbook.services.flags import FlagDraft, record_flag_action
from logbook.services.remarks import record_remark
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_round, make_state, typed_for

TABLES = [
    f"logbook_{name}"
    for name in ("entry", "round", "reading", "statechange", "correction", "remark", "flagaction")
]


@pytest.fixture
def log(engineer: Person, transmitter: Transmitter, meter: Meter) -> Round:
    """A row in every log table."""
    make_state(engineer, transmitter)
    written = make_round(engineer, transmitter, {meter.code: "12.4"})
    correct_values(written, {meter: typed_for(meter, "12.6")}, reason="slip", by=engineer, at=SLOT)
    record_remark(
        "rain",
        station=transmitter.station,
        transmitter=transmitter,
        observed_at=SLOT,
        by=engineer,
        at=SLOT,
    )
    draft = FlagDraft("limit-high", meter, written.entry.no, "acknowledge", "V1 anode current 15 A")
    record_flag_action(draft, by=engineer, at=SLOT)
    return written


def refused(sql: str) -> bool:
    """Whether the database refuses the statement for the log's sake."""
    with pytest.raises(Error, match="written once"), transaction.atomic():
        connection.cursor().execute(sql)
    return True


def first_column(table: str) -> str:
    return "entry_id" if table not in ("logbook_entry", "logbook_reading") else "id"


@pytest.mark.need(52)
@pytest.mark.parametrize("table", TABLES)
class TestRefusals:
    def test_update_is_refused(self, log: Round, table: str) -> None:
        assert refused(f"UPDATE {table} SET station_id = station_id + 1")

    def test_delete_is_refused(self, log: Round, table: str) -> None:
        assert refused(f"DELETE FROM {table}")

    @pytest.mark.only_on("sqlite")
    def test_replace_is_refused(self, log: Round, table: str) -> None:
        assert refused(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")

    @pytest.mark.only_on("sqlite")
    def test_update_or_replace_is_refused(self, log: Round, table: str) -> None:
        column = first_column(table)
        assert refused(f"UPDATE OR REPLACE {table} SET {column} = {column} + 1")

    @pytest.mark.only_on("postgresql")
    def test_truncate_is_refused(self, log: Round, table: str) -> None:
        connection.cursor().execute("SET CONSTRAINTS ALL IMMEDIATE")  # no pending foreign keys
        assert refused(f"TRUNCATE {table} CASCADE")


class TestOnceFilled:
    def test_replace_by_a_unique_key_is_refused_too(self, log: Round) -> None:
        """The new row has a key of its own; only (station, number) clashes."""
        columns = [field.column for field in Entry._meta.local_concrete_fields]
        taken = ", ".join("id + 1000" if name == "id" else name for name in columns)
        verb = "INSERT OR REPLACE" if connection.vendor == "sqlite" else "INSERT"
        copy = f"{verb} INTO logbook_entry ({', '.join(columns)}) SELECT {taken}"
        with pytest.raises(Error), transaction.atomic():
            connection.cursor().execute(f"{copy} FROM logbook_entry")

    def test_what_is_ended_cannot_be_ended_again_or_revived(self, log: Round) -> None:
        ended = Reading.objects.filter(ended_by__isnull=False)
        assert ended.count() == 1
        assert refused("UPDATE logbook_reading SET ended_by_id = NULL WHERE ended_by_id > 0")
        assert refused("UPDATE logbook_reading SET ended_by_id = 1 WHERE ended_by_id > 0")

    def test_ending_may_not_smuggle_another_change(self, log: Round) -> None:
        assert refused("UPDATE logbook_reading SET value = 1, ended_by_id = 1")


@pytest.fixture
def altered_table() -> Iterator[None]:
    """A migrate that adds a column to the readings, and takes it away afterwards."""
    note = models.CharField(max_length=4, null=True)
    note.set_attributes_from_name("note")
    migrate(lambda editor: editor.add_field(Reading, note))
    yield
    migrate(lambda editor: editor.remove_field(Reading, note))


def migrate(change: Any) -> None:
    """What the migrate command does around a change of the schema."""
    emit_pre_migrate_signal(verbosity=0, interactive=False, db=connection.alias)
    with connection.schema_editor() as editor:
        change(editor)
    emit_post_migrate_signal(verbosity=0, interactive=False, db=connection.alias)


@pytest.mark.django_db(transaction=True)
class TestAfterMigration:
    def test_every_trigger_is_there(self, altered_table: None) -> None:
        assert triggers.missing(connection) == []

    @pytest.mark.parametrize("table", TABLES)
    def test_change_is_still_refused(self, altered_table: None, log: Round, table: str) -> None:
        assert refused(f"UPDATE {table} SET station_id = station_id + 1")
        assert refused(f"DELETE FROM {table}")


@pytest.mark.django_db
class TestEngine:
    @pytest.mark.only_on("sqlite")
    def test_sqlite_keeps_every_commit_through_a_power_cut(self) -> None:
        """PRAGMA synchronous is 2 for FULL: SQLite's documentation of the pragma."""
        with connection.cursor() as cursor:
            assert cursor.execute("PRAGMA synchronous").fetchone() == (2,)
            assert cursor.execute("PRAGMA journal_mode").fetchone() == ("wal",)
