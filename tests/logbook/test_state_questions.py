"""Questions about a change of state, with the numbers of needs and cases of the trade."""

import pytest

from logbook.state_questions import (
    antenna_question,
    frequency_question,
    move_question,
    power_question,
    steps_between,
)
from station.models import Antenna

WAVES = {6105.0, 9690.0}


@pytest.mark.need(14)
class TestMoves:
    def test_usual_move_asks_nothing(self) -> None:
        assert move_question("standby", "on_air") is None

    def test_unusual_move_names_the_missing_steps(self) -> None:
        question = move_question("off", "on_air")
        assert question is not None
        assert question.needs_reason
        assert "warming, standby" in question.sentence

    def test_from_an_unknown_state_every_move_is_usual(self) -> None:
        assert move_question("", "on_air") is None

    def test_steps_of_a_usual_move_are_none(self) -> None:
        assert steps_between("off", "warming") == []


@pytest.mark.need(22)
@pytest.mark.case("C12")
class TestFrequency:
    @pytest.mark.parametrize(
        ("khz", "offer"), [(6.105, "6105"), (61050.0, "6105"), (9.69, "9690"), (6107.0, "")]
    )
    def test_slip_is_asked_with_its_offer(self, khz: float, offer: str) -> None:
        question = frequency_question(khz, WAVES)
        assert question is not None
        assert question.offer == offer

    @pytest.mark.parametrize("khz", [5895.0, 26105.0])
    def test_outside_short_wave_is_asked(self, khz: float) -> None:
        question = frequency_question(khz, WAVES)
        assert question is not None
        assert "5900" in question.sentence

    @pytest.mark.parametrize("khz", [6105.0, 6110.0, 5900.0, 26100.0])
    def test_multiple_of_five_within_short_wave_is_not_asked(self, khz: float) -> None:
        assert frequency_question(khz, WAVES) is None

    def test_registered_medium_wave_is_not_asked(self) -> None:
        assert frequency_question(999.0, {999.0}) is None

    def test_short_wave_on_a_medium_wave_transmitter_is_asked(self) -> None:
        assert frequency_question(6105.0, {999.0}) is not None


@pytest.mark.need(21)
@pytest.mark.case("C12")
class TestAntenna:
    ANTENNA = Antenna(code="A1", low_khz=5900, high_khz=7500)

    def test_wave_outside_its_range_asks_for_a_reason(self) -> None:
        question = antenna_question(self.ANTENNA, 9690.0)
        assert question is not None
        assert question.needs_reason

    def test_edge_of_its_range_is_inside(self) -> None:
        assert antenna_question(self.ANTENNA, 7500.0) is None


class TestPower:
    def test_ten_times_full_power_is_asked(self) -> None:
        assert power_question(2000.0, 200.0) is not None

    def test_five_per_cent_over_is_not(self) -> None:
        assert power_question(210.0, 200.0) is None
