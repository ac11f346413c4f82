"""What a migration of the analysis keeps of the release before."""

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from health.models import Judging
from health.pending import pending_entries
from station.models import Meter, Person, Transmitter
from tests.make import make_round, make_state

BEFORE, AFTER = ("health", "0001_initial"), ("health", "0002_summaries")


@pytest.mark.django_db(transaction=True)
def test_entries_judged_one_by_one_stay_judged(
    engineer: Person, transmitter: Transmitter, meter: Meter
) -> None:
    make_state(engineer, transmitter)
    for hour in range(3):
        make_round(engineer, transmitter, {meter.code: "12.4"}, client_key=str(hour))
    rows = list(transmitter.entries.order_by("no").values_list("pk", flat=True))
    executor = MigrationExecutor(connection)
    executor.migrate([BEFORE])
    judged = executor.loader.project_state([BEFORE]).apps.get_model("health", "Judged")
    judged.objects.bulk_create([judged(entry_id=pk) for pk in (rows[0], rows[1], rows[3])])
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())
    assert Judging.objects.get(transmitter=transmitter).judged_no == 2
    assert [entry.no for entry in pending_entries([transmitter])] == [3, 4]
