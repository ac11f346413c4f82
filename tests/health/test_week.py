"""The weekly board: the whole station, what needs a decision, and its charts' data."""

import json
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.week import WeekBoard, build_week
from health.boards.week_items import Item
from health.charts import daily, week_payload
from health.models import Judging
from logbook.services.corrections import correct_values
from station.models import Meter, Person, Station, Transmitter
from tests.health.week_plant import (
    HOUR,
    MONDAY,
    WEDNESDAY,
    make_power,
    on_air,
    read,
)
from tests.make import make_limit, make_meter, make_state, make_transmitter, typed_for
from tests.people import signed_in

NOW = WEDNESDAY + timedelta(hours=12, minutes=30)

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def power(transmitter: Transmitter) -> Meter:
    return make_power(transmitter)


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, power: Meter) -> Transmitter:
    return on_air(shift, transmitter)


def board(station: Station) -> WeekBoard:
    return build_week(station, MONDAY, NOW)


def items(station: Station) -> list[Item]:
    return [line.item for line in board(station).review.lines]


def kinds(station: Station) -> list[str]:
    return [one.kind for one in items(station)]


class TestBoard:
    def test_reading_stands_at_its_hour(self, plant: Transmitter, shift: Person) -> None:
        read(shift, plant, 10, "201")
        (row,) = board(plant.station).rows
        values = row.panels[0].traces[0].values
        assert values[10] == 201
        assert sum(values == values) == 1

    def test_corrected_value_is_the_one_that_counts(
        self, plant: Transmitter, shift: Person, power: Meter
    ) -> None:
        row = read(shift, plant, 10, "21")
        correct_values(row, {power: typed_for(power, "201")}, reason="slip", by=shift, at=NOW)
        assert board(plant.station).rows[0].panels[0].traces[0].values[10] == 201

    @pytest.mark.need(10)
    @pytest.mark.case("C22")
    def test_off_scale_reading_is_a_hole(self, plant: Transmitter, shift: Person) -> None:
        read(shift, plant, 10, "201")
        read(shift, plant, 11, ">300")
        values = board(plant.station).rows[0].panels[0].traces[0].values
        assert values[10] == 201
        assert values[11] != values[11]

    def test_states_are_spans_of_hours(self, plant: Transmitter, shift: Person) -> None:
        spans = [(s.state, s.first_hour, s.last_hour) for s in board(plant.station).rows[0].states]
        assert spans == [("", 0, 9), ("on_air", 10, 11), ("off", 12, 59)]

    def test_limits_are_those_of_the_last_point_on_air(
        self, plant: Transmitter, shift: Person
    ) -> None:
        read(shift, plant, 10, "201")
        assert board(plant.station).rows[0].bands["power"].low_alarm == 180

    def test_same_number_of_queries_for_three_and_twelve(
        self, plant: Transmitter, shift: Person
    ) -> None:
        for number in range(2, 4):
            furnish(shift, plant.station, number)
        three = queries(plant.station)
        for number in range(4, 13):
            furnish(shift, plant.station, number)
        assert queries(plant.station) == three


def furnish(by: Person, station: Station, number: int) -> None:
    other = make_transmitter(station=station, code=f"T{number}")
    make_meter(other, "forward_power", quantity="forward_power", unit="kW", full_scale=300)
    make_state(by, other, observed_at=MONDAY + 10 * HOUR, state="on_air", power_kw=200.0)
    read(by, other, 10, "201")


def queries(station: Station) -> int:
    with CaptureQueriesContext(connection) as captured:
        board(station)
    return len(captured)


class TestDecisions:
    @pytest.mark.need(7)
    def test_missed_rounds_are_counted_by_day(self, plant: Transmitter) -> None:
        (missed,) = items(plant.station)
        assert missed.words == "2 rounds missed on 2026-03-02"
        assert missed.address == "/log/T1/day/2026-03-02"

    @pytest.mark.need(2)
    def test_late_round_is_named(self, plant: Transmitter, shift: Person) -> None:
        read(shift, plant, 10, "201", observed_at=MONDAY + 10 * HOUR + timedelta(minutes=20))
        read(shift, plant, 11, "201")
        assert kinds(plant.station) == ["late"]

    @pytest.mark.need(35)
    def test_stale_flag_comes_before_everything(self, plant: Transmitter, shift: Person) -> None:
        read(shift, plant, 10, "100")
        first = items(plant.station)[0]
        assert (first.kind, first.code) == ("stale", "T1")
        assert first.address.startswith("/flags/T1/forward_power/limit-low/")

    def test_value_to_be_re_read_correction_and_limit_are_listed(
        self, plant: Transmitter, shift: Person, power: Meter
    ) -> None:
        read(shift, plant, 10, "abc")
        row, at = read(shift, plant, 11, "21"), NOW - HOUR
        correct_values(row, {power: typed_for(power, "201")}, reason="slip", by=shift, at=at)
        make_limit(power, low_alarm=170, valid_from=MONDAY + 30 * HOUR, reason="new tube")
        assert kinds(plant.station) == ["to-re-read", "limit", "correction"]

    def test_what_is_not_judged_yet_is_said(self, plant: Transmitter, shift: Person) -> None:
        read(shift, plant, 10, "201")
        read(shift, plant, 11, "201")
        Judging.objects.update(judged_no=0)
        assert [one.words for one in items(plant.station)] == ["4 entries are not judged yet"]


class TestCharts:
    def test_payload_is_json_that_cannot_end_the_script(
        self, plant: Transmitter, shift: Person, power: Meter
    ) -> None:
        Meter.objects.filter(pk=power.pk).update(label="</script><b>")
        read(shift, plant, 10, "100")
        text = week_payload(board(plant.station))
        assert "<" not in text
        data = json.loads(text)
        assert data["charts"]["T1-power"]["values"][0][10] == 100
        assert data["strips"]["T1-strip"]["flags"][0]["hour"] == 10

    def test_table_gives_low_median_and_high_of_a_day(
        self, plant: Transmitter, shift: Person
    ) -> None:
        for hour, value in ((10, "199"), (11, "201")):
            read(shift, plant, hour, value)
        panel = board(plant.station).rows[0].panels[0]
        ((_label, figures),) = daily(panel, [date(2026, 3, 2 + n) for n in range(7)])
        assert (figures[0].low, figures[0].median, figures[0].high) == ("199", "200", "201")
        assert figures[1].median == ""


class TestPage:
    def test_any_day_leads_to_its_monday(self, plant: Transmitter, viewer: Person) -> None:
        answer = signed_in(viewer).get("/week/2026-03-05")
        assert answer.headers["Location"] == "/week/2026-03-02"

    def test_no_day_leads_to_the_running_week(self, plant: Transmitter, viewer: Person) -> None:
        assert signed_in(viewer).get("/week").headers["Location"] == "/week/2026-03-02"

    def test_stranger_sees_none_of_it(self, plant: Transmitter, stranger: Person) -> None:
        assert "row-T1" not in signed_in(stranger).get("/week/2026-03-02").content.decode()

    def test_empty_week_says_so(self, plant: Transmitter, viewer: Person) -> None:
        page = signed_in(viewer).get("/week/2026-02-02").content.decode()
        assert "Nothing was read in these two weeks" in page


@pytest.mark.need(51)
@pytest.mark.case("C23")
class TestSignature:
    def page(self, person: Person) -> str:
        return " ".join(signed_in(person).get("/week/2026-03-02").content.decode().split())

    def test_engineer_signs_and_later_corrections_stand_out(
        self, plant: Transmitter, power: Meter, shift: Person, engineer: Person
    ) -> None:
        row = read(shift, plant, 10, "201")
        assert "Sign the week" not in self.page(shift)
        assert "Sign the week" in self.page(engineer)
        signed_in(engineer).post("/week/2026-03-02/sign", {"meant": "left-open:1"})
        text = self.page(engineer)
        assert "Sign the week" not in text
        assert "after signature" not in text
        values = {power: typed_for(power, "202")}
        correct_values(row, values, reason="slip", by=engineer, at=NOW)
        text = self.page(engineer)
        assert "after signature" in text
        assert "Sign the week" in text
