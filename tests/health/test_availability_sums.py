"""Sums of spans, and bounds of few failures, against the handbook's tables."""

import csv
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from health.statistics.availability import (
    common,
    consecutive_low_days,
    reliability,
    seconds,
    sum_up,
    union,
    without,
)

HOUR = 3600.0
# A busy machine is no fault of the sums.
UNHURRIED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
SPANS = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 60)).map(lambda pair: tuple(sorted(pair))),
    max_size=6,
)


def minutes_in(spans: list) -> set[int]:
    """The whole minutes that spans cover: the sums told another way."""
    return {minute for begin, end in spans for minute in range(begin, end)}


class TestSpans:
    @UNHURRIED
    @given(SPANS, SPANS)
    def test_sums_are_those_of_sets_of_minutes(self, some: list, others: list) -> None:
        ours, theirs = minutes_in(some), minutes_in(others)
        assert seconds(some) == len(ours)
        assert seconds(common(some, others)) == len(ours & theirs)
        assert seconds(without(some, others)) == len(ours - theirs)

    @UNHURRIED
    @given(SPANS)
    def test_union_neither_touches_nor_overlaps(self, some: list) -> None:
        merged = union(some)
        assert all(one[1] < other[0] for one, other in pairwise(merged))


@pytest.mark.need(46)
class TestSum:
    def test_month_of_the_demo_station(self) -> None:
        """30 days x 17.5 h are 31 500 minutes, 41 lost are 99.870 %: demo station's figure. Two
        degraded hours stand beside it."""
        days = [(day * 24 * HOUR, (day * 24 + 17.5) * HOUR) for day in range(30)]
        found = sum_up(days, [(0, 41 * 60)], [(5 * HOUR, 7 * HOUR)], [])
        assert found.scheduled_s == 31_500 * 60
        assert round(100 * found.availability, 3) == 99.870
        assert found.degraded_s == 2 * HOUR

    @pytest.mark.parametrize(
        ("scheduled_h", "off_h", "percent"),
        [(8760, 17.52, 99.8), (720, 3.6, 99.5), (540, 0.9, 99.8333333), (720, 0, 100)],
    )
    def test_table_of_availability(self, scheduled_h: float, off_h: float, percent: float) -> None:
        """Reference values, section 7, computed there by hand."""
        found = sum_up([(0, scheduled_h * HOUR)], [(0, off_h * HOUR)], [], [])
        assert 100 * found.availability == pytest.approx(percent, abs=1e-6)

    def test_no_schedule_is_not_a_hundred_per_cent(self) -> None:
        assert sum_up([], [(0, 60)], [], []).availability is None

    @pytest.mark.case("C11")
    def test_overlapping_losses_count_once(self) -> None:
        assert sum_up([(0, 100)], [(10, 30), (20, 40)], [], []).lost_s == 30

    @pytest.mark.case("C10")
    def test_loss_past_the_schedule_does_not_count(self) -> None:
        """Tripped at 23:58, restored at 00:07, the schedule stops at 00:00: two minutes."""
        assert sum_up([(0, 600)], [(480, 1020)], [], []).lost_s == 120

    def test_agreed_work_is_not_lost_and_its_over_run_is(self) -> None:
        found = sum_up([(0, 1000)], [(100, 500)], [], [(100, 400)])
        assert (found.lost_s, found.planned_s) == (100, 300)

    def test_what_is_lost_is_not_degraded_as_well(self) -> None:
        assert sum_up([(0, 100)], [(0, 50)], [(25, 75)], []).degraded_s == 25


@pytest.mark.need(47)
class TestReliability:
    @pytest.mark.parametrize("level", [60, 80, 90, 95])
    def test_table_of_factors(self, level: int) -> None:
        """NIST/SEMATECH e-Handbook 8.4.5.1: factors on T/n."""
        path = Path(__file__).parent / "mtbf_factors.csv"
        rows = [line for line in path.read_text().splitlines() if not line.startswith("#")]
        for row in csv.DictReader(rows):
            n = int(row["fails"])
            found = reliability(1000.0, n, 0.0, level / 100)
            assert found.low_h * n / 1000 == pytest.approx(float(row[f"low{level}"]), abs=6e-5)
            assert found.high_h * n / 1000 == pytest.approx(float(row[f"up{level}"]), abs=6e-5)

    def test_worked_example(self) -> None:
        """NIST 8.4.5.1: 800 h, 2 failures, 90 %: 127.0690 to 2251.229 h about 400."""
        found = reliability(800.0, 2, 4.0, 0.90)
        assert found.low_h == pytest.approx(127.0690, abs=1e-3)
        assert found.high_h == pytest.approx(2251.229, abs=1e-2)
        assert (found.mtbf_h, found.mean_down_h) == (400.0, 2.0)

    @pytest.mark.parametrize(
        ("confidence", "factor"),
        [(0.6, 1.091357), (0.8, 0.621335), (0.9, 0.434294), (0.95, 0.333808), (0.99, 0.217147)],
    )
    def test_no_failure_gives_a_lower_bound_and_no_mean(
        self, confidence: float, factor: float
    ) -> None:
        """T / -ln(1 - confidence): factors of NIST 8.4.5.1, zero failures."""
        found = reliability(1.0, 0, 0.0, confidence)
        assert found.low_h == pytest.approx(factor, abs=1e-6)
        assert (found.mtbf_h, found.high_h) == (None, None)


@pytest.mark.need(45)
@pytest.mark.parametrize(
    ("days", "count"),
    [([], 0), ([0.8] * 8, 8), ([0.8] * 8 + [0.95], 0), ([0.95, 0.89], 1), ([0.9], 0)],
)
def test_clock_of_reduced_power(days: list[float], count: int) -> None:
    assert consecutive_low_days(days, 0.9) == count
