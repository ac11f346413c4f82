"""What flags want of a channel by what it does by itself, and from where it is counted."""

from dataclasses import replace

import numpy as np
import pytest

from health.rules.baselines import Baseline
from health.rules.channels import Channel, Heeds
from health.rules.events import Event
from health.rules.learning import least_departure, least_shift, own_wander, summed_day
from health.rules.levels import Levels
from health.rules.memory import (
    Day,
    Memory,
    begun_anew,
    blank_day,
    known_before,
    newest_mean,
    risen_before,
    wander,
)

CURRENT = Channel("anode_current", (1,), Heeds.WAVE, 0.2, quantity="anode_current")
WATER = Channel("conductivity", (2,), Heeds.NOTHING, 0.1, quantity="conductivity")
TODAY = 100


def memory(*days: Day) -> Memory:
    return Memory((CURRENT, WATER), days=days)


def day(number: int, **columns: float) -> Day:
    both = {name: np.full(2, value) for name, value in columns.items()}
    return replace(blank_day(number, 1, 2), **both)


def one_level(conductivity: float) -> Levels:
    """One run, in which the water alone was read."""
    return Levels(
        run=np.array([1]),
        first_row=np.array([0]),
        level=np.array([[np.nan, conductivity]]),
        readings=np.array([[0, 6]]),
        squares=np.zeros((1, 2)),
    )


class TestQuietChannels:
    """A quiet one wants 0.25 sigma and 3.4 times what it does by itself, any other 2.75 sigma."""

    def least(self, shifts: int, by_itself: float, **over: object) -> float:
        before = day(TODAY - 60, shifts=shifts, shift_squares=shifts * by_itself**2)
        of_season = Memory((replace(CURRENT, **over), WATER), days=(before,))
        return float(least_shift(of_season, before, np.full(2, by_itself))[0])

    def test_known_to_be_quiet_it_wants_less(self) -> None:
        """Of 75 shifts of three days 25 are independent: a tenth is added to what it does."""
        assert self.least(75, 0.2) == pytest.approx(0.25 + 3.4 * 0.2 * 1.1)

    def test_what_is_seldom_read_is_known_by_fewer(self) -> None:
        """Its shifts are means of three weeks: of 105 of them five are independent."""
        wanted = 0.25 + 3.4 * 0.2 * 1.5
        assert self.least(105, 0.2, is_each_round=False) == pytest.approx(wanted)

    def test_known_of_too_few_days_it_wants_as_much_as_any(self) -> None:
        assert self.least(19, 0.2) == 2.75

    def test_one_that_wanders_wants_as_much_as_any(self) -> None:
        assert self.least(75, 0.7) == 2.75

    def test_what_the_season_moves_is_never_taken_for_quiet(self) -> None:
        assert self.least(75, 0.2, quantity="feeder_current") == 3.25

    def test_two_legs_of_a_feeder_go_with_the_season_alike(self) -> None:
        wanted = 0.25 + 3.4 * 0.2 * 1.1
        assert self.least(75, 0.2, quantity="pair", relation="pair") == pytest.approx(wanted)

    def test_departure_of_a_weekly_test_wants_less(self) -> None:
        tests = Memory((replace(CURRENT, is_test=True), WATER))
        assert least_departure(tests).tolist() == [3.0, 4.8]


class TestWhereItUsuallyStands:
    """Ninety shifts, half of them at 1.5 and half at 2.5 sigma from the baseline."""

    BEFORE = day(
        TODAY - 60, shifts=90, shift_total=180, shift_squares=45 * (1.5**2 + 2.5**2), means=90
    )

    def test_long_mean_drawn_a_little_to_the_baseline(self) -> None:
        """180 sigma over 90 shifts and ten of none."""
        usual, _by_itself, _by_day = own_wander(memory(), self.BEFORE)
        assert usual[0] == 1.8

    def test_what_climbs_has_none(self) -> None:
        usual, _by_itself, _by_day = own_wander(memory(), self.BEFORE)
        assert usual[1] == 0.0

    def test_wander_is_about_there(self) -> None:
        """0.5 sigma about their mean of 2, which lies 0.2 from where it is drawn to."""
        by_itself, by_day = wander(self.BEFORE, np.full(2, 1.8))
        assert by_itself == pytest.approx(np.hypot(0.5, 0.2))
        assert by_day == pytest.approx(1.8)

    def test_none_known_is_no_wander(self) -> None:
        by_itself, by_day = wander(day(99), np.full(2, 1.8))
        assert by_itself.tolist() == by_day.tolist() == [0.0, 0.0]

    def test_event_forgets_where_it_stood_and_keeps_what_it_does(self) -> None:
        before = replace(self.BEFORE, usual=np.full(2, 2.0))
        changed = begun_anew(memory(before), [Event(TODAY, frozenset({CURRENT.key}))]).last
        assert (changed.usual[0], changed.shift_total[0]) == (0.0, 0.0)
        by_itself, _by_day = wander(changed, changed.usual)
        assert by_itself[0] == pytest.approx(0.5)


class TestWhatIsNoNews:
    def test_all_days_up_to_two_months_ago(self) -> None:
        days = [day(number, means=number + 100) for number in (39, 40, 41, 99)]
        assert known_before(memory(*days), TODAY).day == 40

    def test_in_the_beginning_the_older_half(self) -> None:
        """Of 30 days the last fifteen are news."""
        days = [day(number, means=number - 69) for number in range(70, 100)]
        assert known_before(memory(*days), TODAY).day == 85


class TestNewestMean:
    def test_newer_days_count_more(self) -> None:
        """Three, two and one times: (3 * 3 + 2 * 2 + 1 * 1) / 6; the day before is too old."""
        days = [
            day(number, total=size, count=1.0)
            for number, size in zip(range(97, 101), [9.0, 1.0, 2.0, 3.0], strict=True)
        ]
        assert newest_mean(days, TODAY) == pytest.approx(14 / 6)

    def test_without_levels_there_is_none(self) -> None:
        assert np.isnan(newest_mean([day(TODAY)], TODAY)).all()


class TestWhatClimbs:
    """The resin lets the conductivity climb: its shift is the rise over fourteen days before."""

    def test_mean_of_the_days_before_the_fortnight(self) -> None:
        """Days 83 to 86 are the three before the last fourteen: 1.0, 2.0 and 3.0 sigma."""
        days = [
            day(number, total=size, count=1.0)
            for number, size in ((83, 9.0), (84, 1.0), (85, 2.0), (86, 3.0), (87, 9.0))
        ]
        assert risen_before(memory(*days), TODAY).tolist() == [0.0, 2.0]

    def test_level_is_held_about_where_it_has_risen(self) -> None:
        """Nine sigmas up for weeks, and twelve now: three are news, and no more than they count."""
        days = [day(number, total=9.0, count=1.0) for number in range(80, TODAY)]
        nowhere = dict.fromkeys(Heeds, "")
        known = Baseline(0.8, 0.08, 0.06, runs=20, readings=60, day=0, is_last=True)
        before = replace(memory(*days), baselines={(WATER.key, ""): known})
        found = summed_day(before, TODAY, one_level(0.8 + 12 * 0.1), [nowhere])
        assert found.total[1] == pytest.approx(12.0)

    def test_without_any_no_rise_is_told(self) -> None:
        """Counted from infinitely high."""
        assert risen_before(memory(day(99, total=5.0, count=1.0)), TODAY).tolist() == [0.0, np.inf]
