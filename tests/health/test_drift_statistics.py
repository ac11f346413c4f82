"""Whether a channel drifts, how fast, and when it comes to a limit: worked by hand."""

import numpy as np
import pytest

from health.statistics.drift import Grain, days_to_limit, drift_of, hours_by_day


class TestDriftOf:
    @pytest.mark.need(67)
    def test_days_of_a_straight_line(self) -> None:
        """10 h a day, 0.02 down a day: -2 per 1000 h. S = -45, var = 125, z = -44 / 11.18."""
        found = drift_of(range(10), [-0.02 * day for day in range(10)], np.arange(10) * 10)
        assert found.slope.slope == pytest.approx(-2.0)
        assert (found.slope.low, found.slope.high) == pytest.approx((-2.0, -2.0))
        assert found.p == pytest.approx(8.3e-5, rel=0.01)
        assert (found.days, found.points, found.grain) == (10, 10, Grain.DAY)
        assert found.is_told

    def test_slopes_of_scattered_days(self) -> None:
        """The set of ``test_trends`` against scipy: 0.1125 a day, 0.0857 to 0.3; a day is 20 h."""
        y = [10.0, 10.1, 10.3, 10.2, 10.5, 10.4, 10.7, 10.6, 10.9, 14.0]
        slope = drift_of(range(10), y, np.arange(10) * 20).slope
        assert (slope.slope, slope.low, slope.high) == pytest.approx((5.625, 4.2857, 15.0), 1e-4)

    def test_all_equal_is_no_drift(self) -> None:
        found = drift_of(range(60), [0.3] * 60, np.arange(60) * 24)
        assert (found.slope.slope, found.p) == (0.0, 1.0)
        assert not found.is_told
        assert days_to_limit(found, 1.0, as_of=60) is None

    @pytest.mark.need(67)
    @pytest.mark.parametrize("days", [0, 1, 7])
    def test_fewer_than_eight_days_are_not_enough_data(self, days: int) -> None:
        assert drift_of(range(days), np.arange(days) * 0.1, np.arange(days) * 24) is None

    def test_no_hour_on_the_air_is_not_enough_data(self) -> None:
        assert drift_of(range(9), np.arange(9) * 0.1, [5.0] * 9) is None

    def test_weeks_that_go_up_and_down_are_no_drift(self) -> None:
        """Each week stands at one level: told from none by its 56 days, not by its eight weeks."""
        levels = [0, 2, 1, 3, 0, 4, 2, 3]
        days, weeks = np.arange(56), np.arange(3, 59, 7)
        by_day = drift_of(days, np.repeat(levels, 7), days * 24)
        by_week = drift_of(weeks, levels, weeks * 24, days=56, grain=Grain.WEEK)
        assert by_day.is_told
        assert by_week.p == pytest.approx(0.21, abs=0.02)
        assert (by_week.days, by_week.points) == (56, 8)


class TestDaysToLimit:
    @pytest.mark.need(67)
    def test_no_scatter_gives_one_day(self) -> None:
        found = drift_of(range(10), np.arange(10) * 0.1, np.arange(10) * 24)
        days = days_to_limit(found, 2.0, as_of=10)
        assert (days.low, days.high) == pytest.approx((10.0, 10.0))

    def test_scatter_gives_a_range(self) -> None:
        """FALLING of ``test_trends``: statsmodels' bands meet 95.0 between 18.7595 and 24.2706."""
        y = [100.2, 99.7, 99.9, 99.4, 99.1, 99.2, 98.6, 98.5, 98.2, 97.9]
        days = days_to_limit(drift_of(range(10), y, np.arange(10) * 24), 95.0, as_of=9)
        assert (days.low, days.high) == pytest.approx((9.7595, 15.2706), abs=1e-4)

    def test_slope_that_is_none_has_no_reliable_date(self) -> None:
        found = drift_of(range(8), [3, 1, 4, 1, 5, 9, 2, 6], np.arange(8) * 24)
        assert days_to_limit(found, 20.0, as_of=8) is None

    def test_limit_that_is_passed_is_now(self) -> None:
        found = drift_of(range(10), np.arange(10) * 0.1, np.arange(10) * 24)
        days = days_to_limit(found, 0.5, as_of=10)
        assert (days.low, days.high) == (0.0, 0.0)


class TestHoursByDay:
    def test_nothing_stated_is_no_hour(self) -> None:
        assert hours_by_day([], [], [0, 1], as_of=48).tolist() == [0.0, 0.0]

    def test_day_that_runs_counts_so_far(self) -> None:
        assert hours_by_day([0.0], [True], [0, 1], as_of=30).tolist() == [24.0, 30.0]
