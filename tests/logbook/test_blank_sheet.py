"""The blank round sheet: every meter once, today's limits, the hours of a shift."""

from datetime import timedelta

import pytest

from logbook.blank_sheet import BlankSheets, build_blank_sheets
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_limit, make_meter, make_state
from tests.people import signed_in

HOUR = timedelta(hours=1)
NOW = SLOT + timedelta(minutes=5)

pytestmark = [pytest.mark.need(75), pytest.mark.usefixtures("clock")]


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter, meter: Meter) -> Transmitter:
    """On the air at full power; the anode current warns at 11.6 and 13.2 A."""
    make_limit(meter)
    make_state(engineer, transmitter)
    return transmitter


def sheets(plant: Transmitter) -> BlankSheets:
    return build_blank_sheets(plant, SLOT, NOW)


def test_limits_of_today_stand_beside_the_meter(plant: Transmitter) -> None:
    (group,) = sheets(plant).sheets[0]
    (row,) = group.rows
    assert (row.band.low_warning, row.band.high_alarm) == ("11.6", "14.0")


def test_off_the_air_the_limits_are_those_of_the_last_wave(
    plant: Transmitter, engineer: Person
) -> None:
    make_state(engineer, plant, observed_at=NOW - HOUR / 4, state="off", reason="end")
    board = sheets(plant)
    assert board.sheets[0][0].rows[0].band.high_alarm == "14.0"
    assert board.point.state == "on air, full power"


def test_a_shift_of_slots_to_fill(plant: Transmitter) -> None:
    assert [(slot - SLOT) // HOUR for slot in sheets(plant).slots] == list(range(8))


def test_rounds_asked_for_every_two_hours_have_their_columns(plant: Transmitter) -> None:
    plant.intervals.update(minutes=120)
    assert sheets(plant).slots[1] - SLOT == 2 * HOUR


def test_every_meter_stands_once_in_its_order(plant: Transmitter) -> None:
    for number in range(45):
        make_meter(plant, f"m{number}", panel_group=f"Group {number // 10}")
    board = sheets(plant)
    shown = [row.meter for groups in board.sheets for group in groups for row in group.rows]
    assert shown == list(plant.meters.order_by("sheet_order"))
    assert len(board.sheets) == 4


class TestPage:
    def test_first_slot_is_the_open_one_or_what_is_asked_for(
        self, plant: Transmitter, viewer: Person
    ) -> None:
        client = signed_in(viewer)
        assert client.get("/log/T1/blank").context["board"].slots[0] == SLOT
        asked = client.get("/log/T1/blank?day=2026-03-04&clock=14:00")
        assert f"{asked.context['board'].slots[0]:%Y-%m-%d %H:%M}" == "2026-03-04 14:00"

    def test_what_is_no_time_is_said_at_its_field(self, plant: Transmitter, viewer: Person) -> None:
        answer = signed_in(viewer).get("/log/T1/blank?day=4.3.&clock=14:00")
        assert answer.status_code == 400
        assert "year-month-day" in answer.content.decode()
