"""Days to the rated life, worked by hand."""

import pytest

from health.statistics.rated_life import DaysLeft, days_to_rated_life


class TestDaysToRatedLife:
    def test_even_weeks_and_no_spread_give_one_day(self) -> None:
        """11 000 - 9000 = 2000 h at 125 h a week: 16 weeks, 112 days."""
        assert days_to_rated_life(9000, 11_000, 0, [125] * 8) == DaysLeft(112, 112)

    def test_spread_of_the_lives_opens_the_range(self) -> None:
        """8000 - 7500 = 500 h and 14 000 - 7500 = 6500 h at 125 h a week: 28 and 364 days."""
        assert days_to_rated_life(7500, 11_000, 3000, [125] * 8) == DaysLeft(28, 364)

    def test_uneven_weeks_open_the_range(self) -> None:
        """Quartiles of 100, 100, 120, 120: 100 and 120. 1200 h: 70 and 84 days."""
        assert days_to_rated_life(9800, 11_000, 0, [100, 100, 120, 120]) == DaysLeft(70, 84)

    @pytest.mark.parametrize("used", [8000, 14_000, 20_000])
    def test_a_tube_past_its_short_life_may_be_due_today(self, used: float) -> None:
        left = days_to_rated_life(used, 11_000, 3000, [125] * 8)
        assert left is not None
        assert left.early == 0

    def test_past_the_longest_life_there_is_nothing_left(self) -> None:
        assert days_to_rated_life(14_500, 11_000, 3000, [125] * 8) == DaysLeft(0, 0)

    @pytest.mark.parametrize("weeks", [[], [0] * 8, [0, 0, 0, 0, 0, 0, 125, 125]])
    def test_idle_weeks_give_no_date(self, weeks: list[float]) -> None:
        assert days_to_rated_life(9000, 11_000, 3000, weeks) is None
