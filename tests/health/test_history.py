"""The history of one meter: any span, what happened to it, beside another; and its summaries."""

import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from health.assess import assess
from health.boards.history import History, build_history, grain_of
from health.history_charts import history_payload, history_rows
from health.models import Judging, Summary
from health.statistics.summaries import Grain
from logbook import port
from logbook.models import Round
from logbook.services.corrections import correct_values
from station.models import Limit, Meter, Person, Transmitter
from tests.make import (
    make_limit,
    make_meter,
    make_round,
    make_state,
    make_station,
    make_transmitter,
    typed_for,
)
from tests.people import signed_in

MONDAY = datetime(2026, 3, 2, tzinfo=UTC)
DAY, HOUR = timedelta(days=1), timedelta(hours=1)
NOW = MONDAY + 100 * DAY
FIGURES = ("grain", "bucket", "frequency_khz", "n", "low", "median", "high", "off_scale")

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter, meter: Meter) -> Transmitter:
    """On the air from Monday midnight; the anode current has its limits."""
    make_limit(meter)
    make_state(engineer, transmitter, observed_at=MONDAY)
    return transmitter


def read(by: Person, plant: Transmitter, at: datetime, value: str, code: str = "") -> Round:
    code = code or "v1_anode_current"
    return make_round(by, plant, {code: value}, slot=at, observed_at=at)


def of_days(meter: Meter, first: int, last: int, **over: object) -> History:
    """From Monday plus ``first`` days to the end of Monday plus ``last``."""
    meter = Meter.objects.select_related("transmitter__station").get(pk=meter.pk)
    return build_history(meter, (MONDAY + first * DAY, MONDAY + (last + 1) * DAY), **over)


class TestGrain:
    @pytest.mark.parametrize(
        ("days", "grain"),
        [(1, None), (42, None), (43, "day"), (400, "day"), (401, "week"), (3700, "week")]
        + [(3701, "month")],
    )
    def test_grain_follows_the_length(self, days: int, grain: str | None) -> None:
        assert grain_of(timedelta(days=days)) == grain


class TestReadings:
    def test_each_with_the_limits_in_force_at_its_hour(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        """A limit that came at noon draws from noon on, and not before."""
        read(shift, plant, MONDAY + 6 * HOUR, "12.4")
        old = Limit.objects.get(meter=meter)
        old.pk, old.valid_from, old.high_alarm = None, MONDAY + 12 * HOUR, 13.6
        old.save()
        read(shift, plant, MONDAY + 13 * HOUR, "12.6")
        points = of_days(meter, 0, 0).curve.points
        assert points["median"].tolist() == [12.4, 12.6]
        assert points["high_alarm"].tolist() == [14.0, 13.6]

    def test_wave_is_the_one_that_stood(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        read(shift, plant, MONDAY + 6 * HOUR, "12.4")
        make_state(shift, plant, observed_at=MONDAY + 7 * HOUR, state="standby")
        read(shift, plant, MONDAY + 8 * HOUR, "0.0")
        wave = plant.waves.first().frequency_khz
        assert of_days(meter, 0, 0).curve.points["frequency_khz"].tolist() == [wave, 0.0]
        assert of_days(meter, 0, 0, wave=wave).curve.points["median"].tolist() == [12.4]

    @pytest.mark.case("C22")
    def test_off_scale_reading_is_not_drawn_and_stands_in_the_table(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        read(shift, plant, MONDAY + 6 * HOUR, ">20")
        history = of_days(meter, 0, 0)
        assert np.isnan(history.curve.points["median"]).all()
        assert [row.median for row in history_rows(history.curve)] == [">20"]

    def test_nothing_read_is_an_empty_curve(self, plant: Transmitter, meter: Meter) -> None:
        assert of_days(meter, 0, 0).curve.points.empty
        assert of_days(meter, 0, 60).curve.points.empty


class TestMarks:
    def test_correction_flag_and_limit_stand_at_their_instants(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        row = read(shift, plant, MONDAY + 6 * HOUR, "21.4")
        correct_values(row, {meter: typed_for(meter, "12.4")}, reason="slip", by=shift, at=NOW)
        read(shift, plant, MONDAY + 8 * HOUR, "15.0")
        Limit.objects.filter(meter=meter).update(reason="first limits")
        marks = of_days(meter, 0, 0).marks
        assert [(mark.at - MONDAY, mark.kind) for mark in marks] == [
            (6 * HOUR, "correction"),
            (8 * HOUR, "flag"),
        ]
        assert marks[0].words == "21.4 struck: slip"
        assert marks[0].href == f"/log/entry/{row.entry.no}"

    def test_trip_is_marked(self, plant: Transmitter, meter: Meter, shift: Person) -> None:
        make_state(shift, plant, observed_at=MONDAY + 3 * HOUR, state="tripped", reason="arc")
        (mark,) = of_days(meter, 0, 0).marks
        assert (mark.kind, mark.at) == ("trip", MONDAY + 3 * HOUR)

    def test_duplicate_round_is_no_correction(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        read(shift, plant, MONDAY + 6 * HOUR, "12.4")
        make_round(shift, plant, {meter.code: "12.6"}, slot=MONDAY + 6 * HOUR, client_key="b")
        assert of_days(meter, 0, 0).marks == ()


class TestSummaries:
    def test_day_has_lowest_median_and_highest_of_each_wave(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        for hour, value in enumerate(["12.2", "12.6", "12.4", ">20"]):
            read(shift, plant, MONDAY + (hour + 1) * HOUR, value)
        read(shift, plant, MONDAY + DAY + HOUR, "12.8")
        day = Summary.objects.get(meter=meter, grain=Grain.DAY)
        assert (day.n, day.low, day.median, day.high, day.off_scale) == (3, 12.2, 12.4, 12.6, 1)
        assert day.frequency_khz == plant.waves.first().frequency_khz

    def test_running_bucket_is_read_from_its_readings(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        for day in range(3):
            read(shift, plant, MONDAY + day * DAY + HOUR, f"{12.2 + day / 5:.1f}")
        assert Summary.objects.filter(grain=Grain.DAY).count() == 2
        points = of_days(meter, 0, 60).curve.points
        assert points["median"].tolist() == [12.2, 12.4, 12.6]

    def test_late_change_of_wave_moves_the_summaries(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        for day in range(2):
            read(shift, plant, MONDAY + day * DAY + 5 * HOUR, "12.4")
        make_state(shift, plant, observed_at=MONDAY + 4 * HOUR, frequency_khz=9690.0, at=NOW)
        assert Summary.objects.get(grain=Grain.DAY).frequency_khz == 9690.0

    def test_voided_last_round_leaves_no_summary_behind(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        read(shift, plant, MONDAY + HOUR, "12.4")
        row = read(shift, plant, MONDAY + 40 * DAY, "12.6")
        correct_values(row, {meter: typed_for(meter, "")}, reason="not read", by=shift, at=NOW)
        assess(plant)
        points = of_days(meter, 0, 60).curve.points
        assert points["median"].tolist() == [12.4]

    @given(
        steps=st.lists(
            st.tuples(st.integers(0, 45), st.integers(0, 23), st.sampled_from("rrrrcsv")),
            min_size=1,
            max_size=14,
            unique_by=lambda step: step[:2],
        )
    )
    @settings(
        max_examples=25,
        derandomize=True,
        deadline=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture],
    )
    def test_kept_up_equals_made_anew(self, steps: list[tuple[int, int, str]], db: None) -> None:
        """Rounds, corrections and changes of wave in any order, each judged when it comes."""
        station = make_station(code=f"s{Judging.objects.count()}")
        plant = make_transmitter(station=station)
        meter = make_meter(plant)
        by = Person.objects.create_user(f"p{station.code}", station=station)
        rows: list[Round] = []
        for number, (day, hour, kind) in enumerate(steps):
            at = MONDAY + day * DAY + hour * HOUR
            if kind == "s":
                wave = (6105.0, 9690.0)[number % 2]
                make_state(by, plant, observed_at=at, state="on_air", frequency_khz=wave)
            elif kind == "c" and rows:
                values = {meter: typed_for(meter, f"{number}.2")}
                correct_values(rows[-1], values, reason="slip", by=by, at=NOW)
            else:
                rows.append(read(by, plant, at, f"1{number % 10}.4"))
            assess(plant)
        kept = summaries(meter)
        assess(plant, rebuild=True)
        assert summaries(meter) == kept


def summaries(meter: Meter) -> list[tuple]:
    return sorted(Summary.objects.filter(meter=meter).values_list(*FIGURES))


class TestBeside:
    @pytest.fixture
    def other(self, plant: Transmitter, shift: Person) -> Meter:
        return make_meter(plant, "v2_anode_current")

    def test_readings_of_one_round_are_pairs(
        self, plant: Transmitter, meter: Meter, other: Meter, shift: Person
    ) -> None:
        for hour, (ours, theirs) in enumerate([("12", "10"), ("13", "11"), ("14", "12")]):
            values = {meter.code: ours, other.code: theirs}
            make_round(shift, plant, values, slot=MONDAY + (hour + 1) * HOUR)
        read(shift, plant, MONDAY + 9 * HOUR, "15")
        pairs = of_days(meter, 0, 0, against=other).pairs
        assert pairs.ours.tolist() == [12, 13, 14]
        assert (pairs.difference, pairs.correlation) == (2.0, pytest.approx(1.0))
        assert pairs.ratio == pytest.approx(13 / 11)

    def test_two_units_have_no_difference_and_zero_no_ratio(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        other = make_meter(plant, "raw_rise", quantity="temperature_rise", unit="K")
        for hour in range(1, 4):
            values = {meter.code: "12", other.code: "0"}
            make_round(shift, plant, values, slot=MONDAY + hour * HOUR)
        pairs = of_days(meter, 0, 0, against=other).pairs
        assert (pairs.difference, pairs.ratio, pairs.correlation) == (None, None, None)

    def test_two_transmitters_meet_by_the_hour(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        second = make_transmitter(code="T2", station=plant.station)
        other = make_meter(second)
        at = MONDAY + 5 * HOUR
        read(shift, plant, at + timedelta(minutes=2), "12.4")
        make_round(shift, second, {other.code: "11.4"}, slot=at, observed_at=at + HOUR / 5)
        assert of_days(meter, 0, 0, against=other).pairs.theirs.tolist() == [11.4]


class TestPage:
    address = "/history/T1/v1_anode_current"

    def test_shows_the_last_weeks_with_curve_table_and_marks(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        row = read(shift, plant, NOW - DAY, "12.4")
        page = signed_in(shift).get(self.address).content.decode()
        data = json.loads(page.split('id="history-data">')[1].split("</script>")[0])
        assert data["curves"][0]["median"] == [12.4]
        assert f"/log/entry/{row.entry.no}" in page
        assert "1 value as a table" in page

    @pytest.mark.parametrize(
        ("query", "sentence"),
        [
            ("since=2026-03-09&until=2026-03-02", "exchange the two"),
            ("since=9.3.2026&until=2026-03-02", "year-month-day"),
            ("since=2026-03-01&until=2026-03-02&wave=1", "or all"),
            ("since=2026-03-01&until=2026-03-02&against=999", "meter of this station"),
        ],
    )
    def test_what_is_no_span_is_said(
        self, plant: Transmitter, meter: Meter, shift: Person, query: str, sentence: str
    ) -> None:
        answer = signed_in(shift).get(f"{self.address}?{query}")
        assert answer.status_code == 400
        assert sentence in answer.content.decode()

    def test_meter_of_another_station_is_no_choice(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        foreign = make_meter(make_transmitter(station=make_station(code="other")))
        days = "since=2026-03-01&until=2026-03-02"
        answer = signed_in(shift).get(f"{self.address}?{days}&against={foreign.pk}")
        assert answer.status_code == 400

    def test_says_when_judging_is_behind(
        self, plant: Transmitter, meter: Meter, shift: Person
    ) -> None:
        with port.silent():
            read(shift, plant, NOW - DAY, "12.4")
        page = signed_in(shift).get(self.address).content.decode()
        assert "1 entry is not judged yet" in page

    @pytest.mark.parametrize("length", [0, 60])
    def test_asks_as_much_of_many_rounds_as_of_one(
        self, plant: Transmitter, meter: Meter, shift: Person, length: int
    ) -> None:
        counts = []
        for count in (1, 8):
            for number in range(count):
                read(shift, plant, MONDAY + (count + number) * HOUR, "15.0")
            with CaptureQueriesContext(connection) as captured:
                of_days(meter, 0, length)
            counts.append(len(captured))
        assert counts[0] == counts[1]


def test_payload_is_safe_inside_a_script(plant: Transmitter, meter: Meter, shift: Person) -> None:
    Meter.objects.filter(pk=meter.pk).update(label="</script><b>")
    read(shift, plant, MONDAY + HOUR, "12.4")
    assert "</script>" not in history_payload(of_days(meter, 0, 0))
