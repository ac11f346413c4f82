"""A transmitter as it stood at an instant: what was known then, held against what held then."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.assess import assess
from health.boards.record import Record, RecordLine, build_record
from logbook.services.tubes import TubeDraft, record_tube_moves
from station.models import Meter, Person, Transmitter
from tests.make import make_limit, make_meter, make_round, make_sockets, make_state, make_tube
from tests.people import signed_in

SIX = datetime(2026, 3, 2, 6, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(SIX + 12 * HOUR, tick=False):
        yield


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter, meter: Meter) -> Transmitter:
    """On the air from five; read 12.4 A at six and 15 A, beyond the alarm, at seven."""
    make_limit(meter)
    make_meter(transmitter, "v2_anode_current")
    make_state(engineer, transmitter, observed_at=SIX - HOUR)
    for hour, text in enumerate(["12.4", "15"]):
        at = SIX + hour * HOUR
        make_round(engineer, transmitter, {meter.code: text}, slot=at, observed_at=at)
    make_state(engineer, transmitter, observed_at=SIX + 3 * HOUR, state="standby")
    return transmitter


def lines(record: Record) -> dict[str, RecordLine]:
    return {line.meter.code: line for _name, of_one in record.groups for line in of_one}


class TestRecord:
    @pytest.mark.parametrize(
        ("hours", "words", "level", "age"),
        [(0, "12.4", "confirmed", "0:00"), (0.75, "12.4", "confirmed", "0:45")]
        + [(1, "15.0", "alarm-high", "0:00"), (2.5, "15.0", "alarm-high", "1:30")],
    )
    def test_last_reading_before_the_instant_with_its_age(
        self, plant: Transmitter, meter: Meter, hours: float, words: str, level: str, age: str
    ) -> None:
        line = lines(build_record(plant, SIX + hours * HOUR))[meter.code]
        assert (line.words, line.level, line.age_words) == (words, level, age)

    def test_reading_keeps_the_limits_of_its_own_hour(
        self, plant: Transmitter, meter: Meter
    ) -> None:
        """In standby the anode meter has no limits, and the reading at seven had."""
        record = build_record(plant, SIX + 4 * HOUR)
        assert record.point.state == "standby"
        assert lines(record)[meter.code].level == "alarm-high"

    def test_operating_point_is_the_one_that_stood(self, plant: Transmitter) -> None:
        point = build_record(plant, SIX).point
        assert (point.state, point.wave, point.antenna) == (
            "on air, full power",
            "6105 kHz",
            "A1",
        )

    def test_limits_in_force_stand_beside_the_reading(
        self, plant: Transmitter, meter: Meter
    ) -> None:
        line = lines(build_record(plant, SIX))[meter.code]
        assert (line.low, line.high) == ("10.8, 11.6", "13.2, 14.0")

    def test_meter_that_was_never_read_says_so(self, plant: Transmitter) -> None:
        line = lines(build_record(plant, SIX))["v2_anode_current"]
        assert (line.words, line.read_at, line.age_words) == ("", None, "")

    def test_flag_stands_only_in_its_time(self, plant: Transmitter) -> None:
        assess(plant)
        assert build_record(plant, SIX + 0.5 * HOUR).flags == ()
        [(episode, words)] = build_record(plant, SIX + 1.5 * HOUR).flags
        assert (episode.rule, "15.0 A" in words) == ("limit-high", True)

    def test_tubes_are_those_that_stood_there(self, plant: Transmitter, engineer: Person) -> None:
        tube = make_tube(plant, "A-1")
        sockets = make_sockets(plant)
        put_in = TubeDraft(tube, None, sockets[0])
        own = {"by": engineer, "at": SIX}
        record_tube_moves(plant.station, [put_in], observed_at=SIX, **own)
        before, after = (build_record(plant, SIX + hours * HOUR).tubes for hours in (-1, 1))
        assert [one for _socket, one in before] == [None, None]
        assert [one for _socket, one in after] == [tube, None]

    def test_same_number_of_queries_for_more_readings(
        self, plant: Transmitter, engineer: Person, meter: Meter
    ) -> None:
        counts = []
        for hours in (2, 9):
            with CaptureQueriesContext(connection) as queries:
                build_record(plant, SIX + hours * HOUR)
            counts.append(len(queries))
            for hour in range(2, 9):
                at = SIX + hour * HOUR
                make_round(engineer, plant, {meter.code: "12.4"}, slot=at, observed_at=at)
        assert counts[0] == counts[1]


class TestPage:
    def test_page_says_the_instant_that_was_asked_for(
        self, plant: Transmitter, viewer: Person
    ) -> None:
        asked = {"day": "2026-03-02", "clock": "06:45"}
        page = signed_in(viewer).get("/record/T1", asked).content.decode()
        assert "T1 as it stood" in page
        assert "0:45" in page
        assert "6105 kHz" in page

    def test_without_an_instant_it_is_now(self, plant: Transmitter, viewer: Person) -> None:
        assert "standby" in signed_in(viewer).get("/record/T1").content.decode()

    @pytest.mark.parametrize(
        ("asked", "sentence"),
        [
            ({"day": "2.3.2026", "clock": "06:45"}, "Write the day as year-month-day"),
            ({"day": "2026-03-02", "clock": "25:00"}, "Write the time as hours and minutes"),
            ({"day": "2026-03-02"}, "Write hours and minutes"),
        ],
    )
    def test_no_instant_is_said_at_its_field(
        self, plant: Transmitter, viewer: Person, asked: dict, sentence: str
    ) -> None:
        response = signed_in(viewer).get("/record/T1", asked)
        assert response.status_code == 400
        assert sentence in response.content.decode()
