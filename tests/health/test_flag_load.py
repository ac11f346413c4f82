"""How many flags a round and a shift had to take: counted by hand from the rounds below."""

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.flag_load import shift_begins
from health.boards.flags import FlagBoard, build_flags
from health.rules.trips import trip_before
from logbook.services.duty import record_duty
from logbook.services.flags import FlagDraft, record_flag_action
from station.models import Person, Station, Transmitter
from tests.make import (
    SLOT,
    make_interruption,
    make_limit,
    make_meter,
    make_round,
    make_state,
    make_transmitter,
)
from tests.people import signed_in

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NOW = SLOT + 40 * timedelta(minutes=1)

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter) -> Transmitter:
    """Four anode currents with one alarm each."""
    furnish(shift, transmitter)
    return transmitter


def furnish(by: Person, transmitter: Transmitter) -> None:
    for number in range(1, 5):
        make_limit(make_meter(transmitter, f"v{number}_anode_current"))
    make_state(by, transmitter, observed_at=SLOT - 30 * DAY, state="on_air")


def read(by: Person, plant: Transmitter, values: list[str], slot: datetime = SLOT) -> None:
    typed = {f"v{number}_anode_current": value for number, value in enumerate(values, start=1)}
    make_round(by, plant, typed, slot=slot)


def figures(board: FlagBoard) -> dict[str, tuple[str, ...]]:
    return {row.label: row.figures for row in board.load.rows}


@pytest.mark.need(36)
class TestLoad:
    def test_flags_of_one_cause_count_once(self, plant: Transmitter, shift: Person) -> None:
        """Four meters at once are one cause: one flag in the one round of the week."""
        read(shift, plant, ["15"] * 4)
        found = figures(build_flags(plant.station, NOW))
        assert found["Flags raised"] == ("4", "4")
        assert found["Counted: one a cause, one a trip"] == ("1", "1")
        assert found["Rounds with one at most"] == ("100.0 % of 1", "100.0 % of 1")
        assert found["Most in one round"] == ("1", "1")
        assert found["High, medium, low priority"] == ("0, 100, 0 %", "0, 100, 0 %")

    def test_round_is_what_is_read_of_all_transmitters_at_one_slot(
        self, plant: Transmitter, shift: Person
    ) -> None:
        """Four transmitters with a cause each in one round, none in the other: 1 of 2 rounds has
        one at most, the most in one is 4; all in one shift of the week."""
        sets = [plant, *(make_transmitter(station=plant.station, code=f"T{n}") for n in (2, 3, 4))]
        for other in sets[1:]:
            furnish(shift, other)
        for one in sets:
            read(shift, one, ["12.4"], SLOT - HOUR)
            read(shift, one, ["15"])
        found = figures(build_flags(plant.station, NOW))
        assert found["Rounds with one at most"][0] == "50.0 % of 2"
        assert found["Most in one round"][0] == "4"
        assert found["Most in one shift"][0] == "4"

    def test_flags_of_a_trip_count_once_and_beside_their_group(
        self, plant: Transmitter, shift: Person
    ) -> None:
        """V1 the day before is one cause; V2 and V3 under the trip are one more."""
        read(shift, plant, ["15"], SLOT - DAY)
        make_interruption(shift, plant, begin=SLOT + timedelta(minutes=3))
        read(shift, plant, ["15", "15", "15"])
        found = figures(build_flags(plant.station, NOW))
        assert found["Flags raised"][0] == "3"
        assert found["Counted: one a cause, one a trip"][0] == "2"

    def test_week_and_four_weeks_are_counted_apart(self, plant: Transmitter, shift: Person) -> None:
        """V1 21, 14 and 3 days ago; each is a cause of its own, one in the week."""
        for days in (21, 14, 3):
            read(shift, plant, ["15"], SLOT - days * DAY)
            read(shift, plant, ["12.4"], SLOT - days * DAY + HOUR)
        board = build_flags(plant.station, NOW)
        assert figures(board)["Flags raised"] == ("1", "3")
        (top,) = board.load.top
        assert (top.line.episode.meter.code, top.count, top.share) == ("v1_anode_current", 3, 100)

    def test_top_ten_with_their_share(self, plant: Transmitter, shift: Person) -> None:
        """V1 three times and V2 once: 75 and 25 %."""
        for days, values in ((20, ["15"]), (15, ["15"]), (10, ["15"]), (5, ["12.4", "15"])):
            read(shift, plant, values, SLOT - days * DAY)
            read(shift, plant, ["12.4", "12.4"], SLOT - days * DAY + HOUR)
        top = build_flags(plant.station, NOW).load.top
        assert [(one.line.episode.meter.code, one.count, one.share) for one in top] == [
            ("v1_anode_current", 3, 75),
            ("v2_anode_current", 1, 25),
        ]
        assert "75 %" in signed_in(shift).get("/flags").content.decode()

    @pytest.mark.need(34, 35)
    def test_stale_and_chattering_are_counted(self, plant: Transmitter, shift: Person) -> None:
        """V1 chatters three times in five hours; V2 stands for two days."""
        read(shift, plant, ["12.4", "15"], SLOT - 2 * DAY)
        for back, value in enumerate(["15", "12.4", "15", "12.4", "15"]):
            read(shift, plant, [value], SLOT - (5 - back) * HOUR)
        found = figures(build_flags(plant.station, NOW))
        assert found["Stood for more than a day"] == ("1", "1")
        assert found["Chattering"] == ("3", "3")

    @pytest.mark.need(29)
    def test_note_is_no_load(self, plant: Transmitter, shift: Person) -> None:
        for meter in plant.meters.all():
            meter.limits.update(advice="")
        read(shift, plant, ["15"])
        assert figures(build_flags(plant.station, NOW))["Flags raised"] == ("0", "0")

    def test_same_number_of_queries_for_three_and_twelve(
        self, plant: Transmitter, shift: Person
    ) -> None:
        """Each with a flag, a trip, a shelf and a meter out of service."""
        answered(shift, plant)
        counts = []
        for numbers in (range(2, 4), range(4, 13)):
            for number in numbers:
                other = make_transmitter(station=plant.station, code=f"T{number}")
                furnish(shift, other)
                answered(shift, other)
            counts.append(queries(plant.station))
        assert counts[0] == counts[1]


def answered(by: Person, plant: Transmitter) -> None:
    read(by, plant, ["15", "15"])
    make_interruption(by, plant)
    meter = plant.meters.first()
    for verb in ("shelve", "out"):
        record_flag_action(FlagDraft("limit-high", meter, 1, verb, "high"), by=by, at=NOW)


def queries(station: Station) -> int:
    with CaptureQueriesContext(connection) as captured:
        build_flags(station, NOW)
    return len(captured)


@pytest.mark.need(36)
class TestShifts:
    def test_begin_with_each_duty_and_last_twelve_hours_at_most(self) -> None:
        """From 06:00; a duty at 14:00 and the next 34 hours later: 12 + 12 + 10 hours."""
        duties = [SLOT + 8 * HOUR, SLOT + 42 * HOUR]
        begins = shift_begins(duties, SLOT, SLOT + 44 * HOUR)
        assert [(one - SLOT) // HOUR for one in begins] == [0, 8, 20, 32, 42]

    def test_flags_fall_into_the_shift_of_their_duty(
        self, plant: Transmitter, shift: Person, engineer: Person
    ) -> None:
        """Flags of two transmitters an hour apart, and somebody takes the duty between them."""
        other = make_transmitter(station=plant.station, code="T2")
        furnish(shift, other)
        read(shift, plant, ["15"], SLOT - HOUR)
        read(shift, other, ["15"])
        assert figures(build_flags(plant.station, NOW))["Most in one shift"][0] == "2"
        at = SLOT - 30 * timedelta(minutes=1)
        record_duty(plant.station, None, qualification="", note="", by=engineer, at=at)
        assert figures(build_flags(plant.station, NOW))["Most in one shift"][0] == "1"


@pytest.mark.need(38)
class TestTripBefore:
    def test_same_minute_to_two_minutes_after(self) -> None:
        found = [trip_before(minute, [100]) for minute in (99, 100, 101, 102, 103)]
        assert found == [None, 0, 0, 0, None]

    def test_last_of_several(self) -> None:
        assert trip_before(101, [99, 100, 101, 102]) == 2
        assert trip_before(101, []) is None
