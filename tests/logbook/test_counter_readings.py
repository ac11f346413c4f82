from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from logbook.counter_readings import first_of_weeks
from logbook.times import minute_of
from station.models import Meter
from tests.make import make_meter, make_round, make_transmitter

pytestmark = [pytest.mark.django_db]

# Weeks here begin on Thursdays, as 1970-01-01 was one.
THURSDAY = datetime(2026, 3, 5, tzinfo=UTC)
DAY = timedelta(days=1)
SPAN = minute_of(THURSDAY - 4 * DAY), minute_of(THURSDAY + 3 * DAY)


@pytest.fixture
def meter(engineer) -> Meter:
    """Read at 500 and 524 in one week, at 600 and 624 in the next, 700 after the span."""
    transmitter = make_transmitter()
    hours = make_meter(transmitter, "filament_hours", full_scale=99_999.9, step=0.1)
    for day, value in ((-3, "500"), (-2, "524"), (0, "600"), (1, "624"), (3, "700")):
        at = THURSDAY + day * DAY
        make_round(engineer, transmitter, {"filament_hours": value}, slot=at, observed_at=at)
    return hours


class TestFirstOfWeeks:
    def test_each_week_gives_its_first_reading(self, meter):
        found = sorted(first_of_weeks([meter.pk], *SPAN))
        assert [value for _meter, _minute, value in found] == [500.0, 600.0]

    def test_a_week_whose_first_reading_is_past_the_span_gives_none(self, meter):
        assert first_of_weeks([meter.pk], minute_of(THURSDAY + 2 * DAY), SPAN[1]) == []

    @pytest.mark.only_on("sqlite")  # the words of the plan are its own
    def test_readings_are_found_by_key_or_within_a_week(self, meter):
        """Anything else reads all the years of a meter for each of its weeks."""
        with CaptureQueriesContext(connection) as captured:
            first_of_weeks([meter.pk], *SPAN)
        with connection.cursor() as cursor:
            cursor.execute(f"EXPLAIN QUERY PLAN {captured[0]['sql']}")
            steps = [row[3] for row in cursor.fetchall() if "logbook_reading" in row[3]]
        ways = [step.split(" (", 1)[1] for step in steps]
        assert sorted(ways) == ["meter_id=? AND minute>? AND minute<?)", "rowid=?)"]
