"""A prepared query gives what the ORM gives, for every value and each time."""

from datetime import datetime, timedelta

import pytest
from django.db.models import QuerySet

from station.models import Instrument, Meter, Transmitter
from station.prepared import Prepared
from tests.make import COMMISSIONED_AT, make_instrument, make_meter


def hung_after(transmitter_id: int, since: datetime) -> QuerySet[Instrument]:
    rows = Instrument.objects.filter(meter__transmitter=transmitter_id, valid_from__gt=since)
    return rows.filter(scale_law="linear").order_by("valid_from").values_list("pk", "valid_from")


QUERY = Prepared(hung_after, int, datetime)


@pytest.mark.parametrize("days", [-1, 0, 1, 2])
def test_rows_are_those_of_the_orm(transmitter: Transmitter, meter: Meter, days: int) -> None:
    changed_at = COMMISSIONED_AT + timedelta(days=2)
    meter.instruments.update(valid_until=changed_at)
    make_instrument(meter, valid_from=changed_at)
    make_meter(transmitter, "v2_anode_current")
    since = COMMISSIONED_AT + timedelta(days=days)
    assert QUERY.rows(transmitter.pk, since) == list(hung_after(transmitter.pk, since))


def test_another_transmitter_gets_its_own_rows(transmitter: Transmitter, meter: Meter) -> None:
    before = COMMISSIONED_AT - timedelta(days=1)
    assert QUERY.rows(transmitter.pk, before) != []
    assert QUERY.rows(transmitter.pk + 1, before) == []
