"""The hot resistance by day: its trend, a step, and what is no step; worked by hand."""

import numpy as np
import pytest

from health.rules.heater import heater_of

HOURS_A_DAY = 18.0


def heater(amps: list[float], volts: list[float] | None = None):
    days = np.arange(20_000, 20_000 + len(amps))
    return heater_of(days, volts or [12.0] * len(amps), amps, HOURS_A_DAY * np.arange(len(amps)))


class TestTrend:
    def test_resistance_is_volts_over_amps(self) -> None:
        """12 V / 360 A = 0.0333 ohm; 12 / 342 = 0.0351."""
        found = heater([360.0] * 6 + [342.0] * 6)
        assert found.first == pytest.approx(0.033333, abs=1e-6)
        assert found.now == pytest.approx(0.035088, abs=1e-6)

    def test_straight_rise_is_its_slope(self) -> None:
        """R rises by 0.1 % of the first a day of 18 h: 5.556 % per 1000 h, over the median of the
        first five, which is 0.2 % above the first: 5.544."""
        volts = [12.0 * (1 + 0.001 * day) for day in range(12)]
        found = heater([360.0] * 12, volts)
        assert found.slope == pytest.approx(5.5444, abs=1e-3)
        assert found.is_trend_told

    def test_seven_days_are_too_few(self) -> None:
        found = heater([360.0] * 7)
        assert (found.days, found.now, found.step) == (7, None, None)

    def test_missing_days_are_left_out(self) -> None:
        assert heater([360.0, float("nan")] * 8).days == 8


@pytest.mark.need(61)
class TestStep:
    def test_strand_open_is_a_step_down_on_its_day(self) -> None:
        """360 to 345.6 A is -4 %."""
        found = heater([360.0] * 10 + [345.6] * 10)
        assert found.step.day == 20_010
        assert found.step.percent == pytest.approx(-4.0)
        assert found.has_step_down

    def test_step_up_is_not_told_as_a_strand(self) -> None:
        found = heater([345.6] * 10 + [360.0] * 10)
        assert found.step.percent > 0
        assert not found.has_step_down

    def test_smaller_than_the_meters_class_is_none(self) -> None:
        """360 to 352 A is -2.2 %."""
        assert heater([360.0] * 10 + [352.0] * 10).step is None

    def test_slow_fall_is_a_drift_and_no_step(self) -> None:
        """-10 % in 20 days: 2.5 % between the middles of two windows of five days."""
        assert heater([360.0 * (1 - 0.005 * day) for day in range(20)]).step is None
        assert heater([360.0 * (1 - 0.01 * day) for day in range(20)]).step is None

    def test_current_that_went_with_the_voltage_is_none(self) -> None:
        """A new setting 5 % lower takes the current with it."""
        assert heater([360.0] * 10 + [345.0] * 10, [12.0] * 10 + [11.4] * 10).step is None

    def test_of_two_steps_the_newest_is_told(self) -> None:
        found = heater([360.0] * 10 + [345.0] * 10 + [330.0] * 10)
        assert found.step.day == 20_020

    def test_one_wrong_day_is_none(self) -> None:
        assert heater([360.0] * 10 + [300.0] + [360.0] * 10).step is None
