"""Hours out of counters. Expected values are worked by hand or kept by a clock that runs."""

import itertools
from dataclasses import dataclass, field

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.counters import (
    Counter,
    Gain,
    Replacement,
    Running,
    doubtful,
    gain_between,
    stretches,
)

FIVE_DIGITS = Counter(turn=100_000.0, step=1.0)
TENTHS = Counter(turn=100_000.0, step=0.1)
ALWAYS = Running(np.array([0.0]), np.array([10_000.0]))
NEVER = Running(np.array([]), np.array([]))


def hours(readings, *, replaced=(), running=ALWAYS, counter=TENTHS, span=None):
    """The stretches of these (instant, value) pairs."""
    at, value = (np.array(column, dtype=float) for column in zip(*readings, strict=True))
    return stretches(at, value, replaced, running, counter, span or (at[0], at[-1]))


class TestGainBetween:
    @pytest.mark.case("C15")
    def test_a_turn_that_the_clock_allows_is_a_rollover(self):
        assert gain_between(14.0, 99_998, 12, FIVE_DIGITS) == (Gain.ROLLOVER, 14.0)

    @pytest.mark.case("C15")
    def test_a_turn_that_the_clock_does_not_allow_is_asked(self):
        assert gain_between(10.0, 99_998, 12, FIVE_DIGITS) == (Gain.BACKWARDS, 0.0)

    @pytest.mark.case("C15")
    def test_a_counter_never_gains_less_than_nothing(self):
        assert gain_between(14.0, 41_230, 41_229, FIVE_DIGITS) == (Gain.BACKWARDS, 0.0)

    @pytest.mark.case("C17")
    def test_26_hours_in_a_day_are_not_counted(self):
        assert gain_between(24.0, 41_000.0, 41_026.0, TENTHS) == (Gain.TOO_MUCH, 0.0)

    def test_one_step_more_than_the_clock_is_counted(self):
        assert gain_between(24.0, 41_000, 41_025, FIVE_DIGITS) == (Gain.COUNTED, 25.0)


class TestStretches:
    def test_a_running_counter_is_counted(self):
        assert hours([(0, 500.0), (5, 505.0), (9, 509.0)]).between(0, 9).hours == 9.0

    @pytest.mark.case("C15")
    def test_a_rollover_is_counted_through(self):
        found = hours([(0, 99_998.0), (14, 12.0)], counter=FIVE_DIGITS).between(0, 14)
        assert (found.hours, found.estimated) == (14.0, 0.0)

    @pytest.mark.case("C16")
    @pytest.mark.parametrize("first", [0.0, 312.0])
    def test_a_replaced_counter_goes_on_from_its_first_reading(self, first):
        changed = Replacement(10.0, 41_230.0, first, TENTHS)
        read = [(0, 41_221.0), (24, first + 14.0)]
        found = hours(read, replaced=[changed]).between(0, 24)
        assert (found.hours, found.estimated) == (23.0, 0.0)

    @pytest.mark.case("C17")
    def test_a_gain_beyond_the_clock_is_estimated_by_the_state_log(self):
        on_air = Running(np.array([2.0]), np.array([20.0]))
        found = hours([(0, 500.0), (24, 526.0)], running=on_air).between(0, 24)
        assert (found.hours, found.estimated) == (18.0, 18.0)

    @pytest.mark.case("C17")
    def test_one_slip_between_good_readings_loses_nothing(self):
        found = hours([(0, 500.0), (5, 595.0), (10, 510.0)]).between(0, 10)
        assert (found.hours, found.estimated) == (10.0, 0.0)

    @pytest.mark.case("C18")
    def test_a_frozen_counter_is_estimated_by_the_state_log(self):
        on_air = Running(np.array([0.0]), np.array([6.0]))
        read = [(0, 500.0), (1, 501.0), *((hour, 501.0) for hour in range(2, 9))]
        found = hours(read, running=on_air).between(0, 8)
        assert (found.hours, found.estimated) == (6.0, 5.0)

    @pytest.mark.case("C18")
    def test_a_counter_that_stands_while_the_filament_is_off_is_right(self):
        found = hours([(0, 500.0), (8, 500.0)], running=NEVER).between(0, 8)
        assert (found.hours, found.estimated) == (0.0, 0.0)

    def test_hours_after_the_last_reading_are_estimated(self):
        found = hours([(0, 500.0), (2, 502.0)], span=(0, 5)).between(0, 5)
        assert (found.hours, found.estimated) == (5.0, 3.0)

    def test_hours_inside_a_gap_follow_the_state_log(self):
        on_air = Running(np.array([0.0, 90.0]), np.array([10.0, 100.0]))
        found = hours([(0, 500.0), (100, 520.0)], running=on_air)
        assert found.between(0, 50).hours == 10.0

    def test_without_any_reading_all_hours_are_estimated(self):
        nothing = np.array([])
        found = stretches(nothing, nothing, [], ALWAYS, TENTHS, (0.0, 7.0)).between(0, 7)
        assert (found.hours, found.estimated) == (7.0, 7.0)

    def test_hours_to_many_instants_are_those_between(self):
        """10 h by the clock's 14, then 4 by 4: 5 h after 7, 12 h after 16."""
        read = [(0, 500.0), (14, 510.0), (18, 514.0)]
        found = hours(read, running=Running(np.array([0.0]), np.array([18.0])))
        assert found.until([0, 7, 16]).tolist() == [0.0, 5.0, 12.0]


class TestDoubtful:
    def test_the_first_reading_can_be_the_slip(self):
        value = np.array([10.0, 11.0, 2.0, 13.0])
        assert doubtful(np.arange(4.0), value, FIVE_DIGITS).tolist() == [False, False, True, False]

    def test_a_new_level_that_stays_is_no_slip(self):
        value = np.array([10.0, 11.0, 500.0, 501.0])
        assert not doubtful(np.arange(4.0), value, FIVE_DIGITS).any()


@dataclass
class Clock:
    """A socket that really runs: the independent account of what a counter should have counted."""

    now: float = 1000.0
    shown: float = 99_990.0
    is_up: bool = False
    readings: list = field(default_factory=list)
    ups: list = field(default_factory=list)
    replaced: list = field(default_factory=list)
    tubes: list = field(default_factory=lambda: [[1000.0, 0.0]])

    def run(self, length: float) -> None:
        self.now += length
        if self.is_up:
            self.shown = (self.shown + length) % 100_000.0
            self.tubes[-1][1] += length
            self.ups[-1][1] = self.now

    def switch(self) -> None:
        self.is_up = not self.is_up
        if self.is_up:
            self.ups.append([self.now, self.now])

    def read(self) -> None:
        self.readings.append((self.now, np.floor(self.shown * 10) / 10))

    def replace(self) -> None:
        self.replaced.append(Replacement(self.now, np.floor(self.shown * 10) / 10, 312.0, TENTHS))
        self.shown = 312.0

    def swap(self) -> None:
        self.tubes.append([self.now, 0.0])


HAPPENINGS = st.lists(
    st.tuples(
        st.sampled_from(["switch", "read", "read", "read", "replace", "swap"]),
        st.integers(1, 3000).map(lambda minutes: minutes / 60),
    ),
    max_size=60,
)


def lived(happenings) -> Clock:
    """The clock after all this, read first and last."""
    clock = Clock()
    clock.read()
    for what, length in [*happenings, ("read", 1 / 60)]:
        clock.run(length)
        getattr(clock, what)()
    return clock


def found_for(clock: Clock):
    at, value = np.array(clock.readings).T
    ups = np.array(clock.ups).reshape(-1, 2)
    running = Running(ups[:, 0], ups[:, 1])
    return stretches(at, value, clock.replaced, running, TENTHS, (1000.0, clock.now))


class TestTubeHours:
    @pytest.mark.need(59)
    @given(happenings=HAPPENINGS)
    def test_tubes_get_what_the_clock_counted(self, happenings):
        clock = lived(happenings)
        found = found_for(clock)
        ends = [*(since for since, _ in clock.tubes[1:]), clock.now]
        tolerance = 0.1 * (2 + len(clock.replaced))
        for (since, ran), until in zip(clock.tubes, ends, strict=True):
            assert found.between(since, until).hours == pytest.approx(ran, abs=tolerance)

    @pytest.mark.need(59)
    @given(happenings=HAPPENINGS)
    def test_the_sum_of_the_stays_is_the_counters_gain(self, happenings):
        clock = lived(happenings)
        found = found_for(clock)
        ends = [since for since, _ in clock.tubes] + [clock.now]
        total = sum(found.between(*pair).hours for pair in itertools.pairwise(ends))
        assert total == pytest.approx(counted_by(clock), abs=1e-6)


def counted_by(clock: Clock) -> float:
    """The differences of what was read, counter by counter."""
    total, last = 0.0, None
    events = [(at, value, None) for at, value in clock.readings]
    events += [(one.at, one.old_last, one.new_first) for one in clock.replaced]
    for _at, value, following in sorted(events, key=lambda event: event[0]):
        total += 0.0 if last is None else (value - last) % 100_000.0
        last = value if following is None else following
    return total
