"""What a shift wants of a quiet channel, and from where the rise of one that climbs is counted."""

from dataclasses import replace

import numpy as np
import pytest

from health.rules.channels import Channel, Heeds
from health.rules.learning import least_shift
from health.rules.memory import Day, Memory, blank_day, risen_before

CURRENT = Channel("anode_current", (1,), Heeds.WAVE, 0.2, quantity="anode_current")
WATER = Channel("conductivity", (2,), Heeds.NOTHING, 0.1, quantity="conductivity")
TODAY = 100


def memory(*days: Day) -> Memory:
    return Memory((CURRENT, WATER), days=days)


def day(number: int, **columns: float) -> Day:
    both = {name: np.full(2, value) for name, value in columns.items()}
    return replace(blank_day(number, 1, 2), **both)


class TestQuietChannels:
    """A quiet one wants 0.6 sigma and 4.2 times what it does by itself, any other 2.75 sigma."""

    def least(self, shifts: int, by_itself: float) -> float:
        known = memory(day(TODAY - 60, shifts=shifts, shift_squares=shifts * by_itself**2))
        return float(least_shift(known, TODAY, np.full(2, by_itself))[0])

    def test_known_to_be_quiet_it_wants_less(self) -> None:
        assert self.least(30, 0.2) == pytest.approx(0.6 + 4.2 * 0.2)

    def test_known_of_too_few_days_it_wants_as_much_as_any(self) -> None:
        assert self.least(19, 0.2) == 2.75

    def test_one_that_wanders_wants_as_much_as_any(self) -> None:
        assert self.least(30, 0.7) == 2.75


class TestWhatClimbs:
    """The resin lets the conductivity climb: its shift is the rise over fourteen days before."""

    def test_mean_of_the_days_before_the_fortnight(self) -> None:
        """Days 83 to 86 are the three before the last fourteen: 1.0, 2.0 and 3.0 sigma."""
        days = [
            day(number, total=size, count=1.0)
            for number, size in ((83, 9.0), (84, 1.0), (85, 2.0), (86, 3.0), (87, 9.0))
        ]
        assert risen_before(memory(*days), TODAY).tolist() == [0.0, 2.0]

    def test_without_any_no_rise_is_told(self) -> None:
        """Counted from infinitely high."""
        assert risen_before(memory(day(99, total=5.0, count=1.0)), TODAY).tolist() == [0.0, np.inf]
