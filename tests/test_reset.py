"""The tests' own ground: a written log can be emptied between tests, and only there."""

from datetime import UTC, datetime

import pytest
from django.db import Error, connection
from django.test import TransactionTestCase

from logbook import triggers
from logbook.models import Entry, Kind
from station.models import Person, Station

AT = datetime(2026, 1, 5, 10, tzinfo=UTC)


def write_an_entry() -> None:
    station = Station.objects.create(code="north", name="North")
    Entry.objects.create(
        station=station,
        no=1,
        kind=Kind.REMARK,
        observed_at=AT,
        entered_at=AT,
        by=Person.objects.create_user("operator", station=station),
        name_as_written="Operator",
        digest=bytes(32),
    )


@pytest.mark.django_db(transaction=True)
class TestReset:
    def test_flush_empties_the_log_and_leaves_every_trigger(self) -> None:
        write_an_entry()
        TransactionTestCase()._fixture_teardown()
        assert not Entry.objects.exists()
        assert triggers.missing(connection) == []

    def test_without_the_helper_the_database_refuses(self) -> None:
        write_an_entry()
        with pytest.raises(Error, match="written once"), connection.cursor() as cursor:
            cursor.execute(f'DELETE FROM "{Entry._meta.db_table}"')
