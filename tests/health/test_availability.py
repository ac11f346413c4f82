"""The availability of a month: clipped to the schedule in force, by whose loss it was."""

import json
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from health.boards.availability import AvailabilityLine, build_availability
from logbook.months import month_span
from logbook.services.interruptions import record_restoration
from station.models import Person, ScheduleLine, Transmitter
from station.schedules import take_schedule
from tests.make import make_interruption, make_state
from tests.people import signed_in

MARCH, APRIL = month_span(2026, 3), month_span(2026, 4)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
NOW = datetime(2026, 5, 2, tzinfo=UTC)
END_OF_FACTS = {"found": "", "mode": "", "mechanism": "", "repair_min": None}

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter) -> Transmitter:
    """Scheduled from 0630 to 2400 every day: 17.5 hours."""
    schedule(transmitter, engineer, MARCH[0] - DAY, 390, 1440)
    return transmitter


def schedule(of: Transmitter, by: Person, since: datetime, start: int, stop: int) -> None:
    facts = {"frequency_khz": 6105.0, "start_min": start, "stop_min": stop, "days": "1234567"}
    line = ScheduleLine(station=of.station, transmitter=of, **facts)
    take_schedule(of.station, [line], effective_from=since, note="", by=by, at=since)


def lose(by: Person, of: Transmitter, begin: datetime, minutes: float, **over: object) -> None:
    entry = make_interruption(by, of, begin=begin, **over)
    end = begin + minutes * MINUTE
    record_restoration(entry.interruption, end, END_OF_FACTS, by=by, at=end)


def line_of(of: Transmitter, month: tuple = MARCH, now: datetime = NOW) -> AvailabilityLine:
    return build_availability(of.station, *month, now).lines[0]


@pytest.mark.need(46)
class TestBoard:
    def test_month_of_the_demo_station(self, plant: Transmitter, engineer: Person) -> None:
        """30 days x 17.5 h, 41 minutes lost: 99.870 %, the demo station's figure."""
        lose(engineer, plant, APRIL[0] + 8 * HOUR, 30)
        lose(engineer, plant, APRIL[0] + 3 * DAY + 8 * HOUR, 11)
        lose(engineer, plant, APRIL[0] + 5 * DAY + 8 * HOUR, 120, power_kw=120.0)
        found = line_of(plant, APRIL).of_transmitter
        assert (found.scheduled_s, found.lost_s) == (31_500 * 60, 41 * 60)
        assert round(100 * found.availability, 3) == 99.870
        assert found.degraded_s == 7200

    @pytest.mark.case("C10")
    def test_trip_over_the_months_end_counts_in_the_first_alone(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        """23:58 to 00:07, and the schedule stops at 00:00."""
        lose(engineer, plant, APRIL[0] - 2 * MINUTE, 9)
        assert line_of(plant).of_transmitter.lost_s == 120
        assert line_of(plant, APRIL).of_transmitter.lost_s == 0

    @pytest.mark.case("C11")
    def test_overlapping_losses_are_one_in_the_sum(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        lose(engineer, plant, MARCH[0] + 8 * HOUR, 30)
        lose(engineer, plant, MARCH[0] + 8 * HOUR + 20 * MINUTE, 30, cause="tube")
        assert line_of(plant).of_transmitter.lost_s == 50 * 60

    @pytest.mark.need(26)
    def test_loss_goes_by_the_schedule_then_in_force(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        """From noon of the 10th on nothing is on in the morning."""
        schedule(plant, engineer, MARCH[0] + 9 * DAY + 12 * HOUR, 12 * 60, 1440)
        for day in (8, 10):
            lose(engineer, plant, MARCH[0] + day * DAY + 8 * HOUR, 30)
        assert line_of(plant).of_transmitter.lost_s == 30 * 60

    def test_programme_feed_is_the_services_loss_alone(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        lose(engineer, plant, MARCH[0] + 8 * HOUR, 30, loss_source="feed", cause="supply")
        lose(engineer, plant, MARCH[0] + 9 * HOUR, 10, loss_source="mains", cause="supply")
        line = line_of(plant)
        assert line.of_transmitter.lost_s == 600
        assert line.of_service.lost_s == 2400

    def test_over_run_of_planned_work_is_lost(self, plant: Transmitter, engineer: Person) -> None:
        begin = MARCH[0] + 8 * HOUR
        lose(engineer, plant, begin, 90, cause="work", agreed_end=begin + HOUR)
        line = line_of(plant)
        assert (line.of_transmitter.lost_s, line.of_transmitter.planned_s) == (1800, 3600)
        assert line.reliability.failures == 0

    def test_recycles_are_counted_apart(self, plant: Transmitter, engineer: Person) -> None:
        lose(engineer, plant, MARCH[0] + 8 * HOUR, 4 / 60)
        lose(engineer, plant, MARCH[0] + 9 * HOUR, 10, recycles=3)
        line = line_of(plant)
        assert (line.recycles, line.of_transmitter.lost_s) == (4, 600)

    def test_open_loss_counts_to_now(self, plant: Transmitter, engineer: Person) -> None:
        begin = MARCH[0] + 8 * HOUR
        make_interruption(engineer, plant, begin=begin)
        assert line_of(plant, now=begin + HOUR).of_transmitter.lost_s == 3600

    def test_causes_are_ranked_by_what_they_cost(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        lose(engineer, plant, MARCH[0] + 8 * HOUR, 10, cause="cooling")
        for hour in (10, 12):
            lose(engineer, plant, MARCH[0] + hour * HOUR, 10, cause="tube")
        assert [(one.cause, one.count) for one in line_of(plant).causes] == [
            ("tube", 2),
            ("water or air", 1),
        ]

    @pytest.mark.need(47)
    def test_month_without_a_failure_has_a_lower_bound(self, plant: Transmitter) -> None:
        """T / 2.303 at 90 %: 31 days x 17.5 h = 542.5 h give 235.6 h, never 'infinite'."""
        found = line_of(plant).reliability
        assert (found.failures, found.mtbf_h) == (0, None)
        assert found.low_h == pytest.approx(542.5 / 2.302585, rel=1e-6)

    def test_month_without_a_schedule_says_so(self, transmitter: Transmitter) -> None:
        line = line_of(transmitter)
        assert (line.of_transmitter.availability, line.reliability) == (None, None)


@pytest.mark.need(45)
class TestReducedPower:
    def on(self, by: Person, plant: Transmitter, day: int, kw: float) -> None:
        at = MARCH[0] + day * DAY + 7 * HOUR
        make_state(by, plant, observed_at=at, state="on_air", frequency_khz=6105.0, power_kw=kw)

    def test_days_are_counted_until_one_is_whole_again(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        """From the 2nd on at 120 of 200 kW; restored at seven on the 12th, whole on the 13th."""
        self.on(engineer, plant, 0, 200.0)
        self.on(engineer, plant, 1, 120.0)
        assert line_of(plant, now=MARCH[0] + 8 * DAY).low_days == 7
        line = line_of(plant, now=MARCH[0] + 9 * DAY)
        assert (line.low_days, line.is_low_too_long) == (8, True)
        self.on(engineer, plant, 11, 200.0)
        assert line_of(plant, now=MARCH[0] + 12 * DAY).low_days == 11
        assert line_of(plant, now=MARCH[0] + 13 * DAY).low_days == 0

    def test_page_warns_of_it(self, plant: Transmitter, engineer: Person) -> None:
        self.on(engineer, plant, 0, 120.0)
        page = signed_in(engineer).get("/availability/2026-03").content.decode()
        assert "Below 90 % of full power for" in page
        assert "tell it" in page


class TestCommand:
    def run(self, *options: str) -> str:
        out = StringIO()
        call_command("availability", *options, stdout=out)
        return out.getvalue()

    def test_line_and_json_say_the_same(self, plant: Transmitter, engineer: Person) -> None:
        lose(engineer, plant, MARCH[0] + 8 * HOUR, 41)
        assert "T1: 99.874 %" in self.run("--month", "2026-03")
        (station,) = json.loads(self.run("--month", "2026-03", "--json"))
        found = station["transmitters"][0]["of_transmitter"]
        assert (found["lost_s"], found["scheduled_s"]) == (2460, 31 * 17.5 * 3600)

    def test_no_schedule_is_said(self, transmitter: Transmitter) -> None:
        assert "no schedule" in self.run("--month", "2026-03")

    @pytest.mark.parametrize("text", ["2026-13", "march", "2026", "202603"])
    def test_what_is_no_month_is_refused(self, text: str) -> None:
        with pytest.raises(CommandError, match="write it as 2026-03"):
            self.run("--month", text)
