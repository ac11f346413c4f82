"""The next filament setting: down while no sign, back up after it, never under the minimum."""

from datetime import UTC, datetime, timedelta

import pytest

from health.rules.filament_steps import Makers, Setting, next_setting

AT = datetime(2026, 3, 2, tzinfo=UTC)
MAKERS = Makers(rated_v=12.0, minimum_v=11.4, run_in_h=200.0)

pytestmark = pytest.mark.need(61)


def left(volts: float, *, has_sign: bool = False) -> Setting:
    return Setting(AT, 5000.0, volts + 0.1, volts, has_sign)


class TestNext:
    def test_from_the_rated_voltage_one_step_down(self) -> None:
        """2 and 1 % off 12 V."""
        found = next_setting([], 5000.0, MAKERS)
        assert (found.code, found.low_v, found.high_v) == ("down", 11.76, 11.88)

    def test_the_last_step_ends_at_the_minimum(self) -> None:
        """2 % off 11.55 V is 11.319, under 11.4; 1 % off is 11.4345."""
        found = next_setting([left(11.55)], 5000.0, MAKERS)
        assert (found.code, found.low_v, found.high_v) == ("down", 11.4, 11.43)

    def test_no_step_is_proposed_that_would_pass_the_minimum(self) -> None:
        """1 % off 11.5 V is 11.385."""
        found = next_setting([left(11.5)], 5000.0, MAKERS)
        assert (found.code, found.low_v) == ("at-minimum", None)

    @pytest.mark.parametrize("volts", [v / 100 for v in range(1100, 1261, 3)])
    def test_whatever_stands_nothing_under_the_minimum_is_proposed(self, volts: float) -> None:
        for has_sign in (False, True):
            found = next_setting([left(volts, has_sign=has_sign)], 5000.0, MAKERS)
            assert found.low_v is None or 11.4 <= found.low_v <= found.high_v

    def test_without_a_minimum_nothing_is_proposed(self) -> None:
        found = next_setting([left(11.8)], 5000.0, Makers(12.0, None, 200.0))
        assert (found.code, found.low_v, found.high_v) == ("no-minimum", None, None)

    def test_under_the_minimum_it_is_raised(self) -> None:
        found = next_setting([left(11.2)], 5000.0, MAKERS)
        assert (found.code, found.low_v) == ("raise", 11.4)

    def test_after_the_first_sign_a_little_back_up(self) -> None:
        """1 and 2 % on 11.6 V: 11.716 and 11.832."""
        found = next_setting([left(11.6, has_sign=True)], 5000.0, MAKERS)
        assert (found.code, found.low_v, found.high_v) == ("back-up", 11.72, 11.83)

    def test_back_up_stops_at_the_rated_voltage(self) -> None:
        found = next_setting([left(11.9, has_sign=True)], 5000.0, MAKERS)
        assert found.high_v == 12.0

    def test_sign_at_the_rated_voltage_is_not_the_setting(self) -> None:
        assert next_setting([left(12.0, has_sign=True)], 5000.0, MAKERS).code == "sign-at-rated"

    def test_once_backed_up_it_stays(self) -> None:
        found = next_setting([left(11.6, has_sign=True), left(11.75)], 5000.0, MAKERS)
        assert (found.code, found.low_v) == ("hold", None)

    def test_first_hours_are_run_at_the_rated_voltage(self) -> None:
        assert next_setting([], 199.0, MAKERS).code == "run-in"
        assert next_setting([], 200.0, MAKERS).code == "down"

    def test_while_the_emission_falls_nothing_lower_is_proposed(self) -> None:
        found = next_setting([left(11.9)], 5000.0, MAKERS, is_emission_down=True)
        assert (found.code, found.low_v) == ("no-lower", None)

    def test_it_is_checked_again_after_three_months(self) -> None:
        """13 weeks."""
        assert next_setting([left(11.9)], 5000.0, MAKERS).due == AT + timedelta(weeks=13)
        assert next_setting([], 5000.0, MAKERS).due is None
