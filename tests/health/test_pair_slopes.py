"""Slopes by rank without all pairs, against the list of all pairs and against scipy."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.stats import theilslopes

from health.statistics import pair_slopes
from health.statistics.pair_slopes import inversions, inverted, levels, ranked_slopes
from health.statistics.trends import theil_sen


@pytest.fixture
def _few(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if a list of more than ten slopes were too long, and a sample of forty long enough."""
    monkeypatch.setattr(pair_slopes, "FEW", 10)
    monkeypatch.setattr(pair_slopes, "SAMPLE", 40)


STEPS = st.integers(-8, 8).map(lambda steps: steps * 0.02)
ANY = st.floats(-1e3, 1e3).map(lambda value: round(value, 6))
POINTS = st.lists(st.tuples(st.integers(0, 60), st.one_of(STEPS, ANY)), min_size=3, max_size=60)


class TestInversions:
    @pytest.mark.parametrize(
        ("ranks", "count"), [([0], 0), ([0, 1, 2], 0), ([2, 1, 0], 3), ([3, 0, 2, 1, 4], 4)]
    )
    def test_hand_counted(self, ranks: list[int], count: int) -> None:
        assert inversions(np.array(ranks)) == count

    def test_each_inverted_pair_once(self) -> None:
        """3 before 0, 2 and 1; 2 before 1."""
        above, below = inverted(levels(np.array([3, 0, 2, 1, 4])), None)
        assert sorted(zip(above.tolist(), below.tolist(), strict=True)) == [
            *((2, 1), (3, 0), (3, 1), (3, 2))
        ]

    @given(st.permutations(range(37)))
    def test_pairs_by_number_are_those_of_all(self, ranks: list[int]) -> None:
        row = np.array(ranks)
        every = list(zip(*inverted(levels(row), None), strict=True))
        wanted = np.arange(0, len(every), 3)
        assert list(zip(*inverted(levels(row), wanted), strict=True)) == every[::3]


@pytest.mark.usefixtures("_few")
class TestAgainstScipy:
    """The fixture is the same for every example."""

    @settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
    @given(POINTS)
    def test_same_slope_and_limits(self, points: list[tuple[int, float]]) -> None:
        x, y = (np.array(column, dtype=float) for column in zip(*points, strict=True))
        found = theil_sen(x, y)
        if np.unique(x).size < 2:
            assert found is None
            return
        expected = theilslopes(y, x)
        got = (found.slope, found.intercept)
        assert got == pytest.approx((expected.slope, expected.intercept), rel=1e-8, abs=1e-12)
        if np.isfinite(expected.low_slope):
            limits = (expected.low_slope, expected.high_slope)
            assert (found.low, found.high) == pytest.approx(limits, rel=1e-8, abs=1e-12)

    @settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
    @given(POINTS, st.data())
    def test_any_rank(self, points: list[tuple[int, float]], data: st.DataObject) -> None:
        x, y = (np.array(column, dtype=float) for column in zip(*points, strict=True))
        slopes = sorted(
            (b[1] - a[1]) / (b[0] - a[0]) for a, b in combinations(sorted(points), 2) if b[0] > a[0]
        )
        if slopes:
            rank = data.draw(st.integers(0, len(slopes) - 1))
            assert ranked_slopes(x, y, [rank])[0] == pytest.approx(slopes[rank], abs=1e-9)


class TestManyPoints:
    def test_readings_on_the_steps_of_a_meter(self) -> None:
        rng = np.random.default_rng(7)
        hours = np.arange(1500.0)
        y = np.round((12.4 + rng.normal(0, 0.05, hours.size) + 4e-5 * hours) / 0.02) * 0.02
        found, expected = theil_sen(hours, y), theilslopes(y, hours)
        assert found.slope == pytest.approx(expected.slope, rel=1e-8)
        assert (found.low, found.high) == pytest.approx(tuple(expected)[2:], rel=1e-8)

    def test_all_equal_is_no_slope_at_all(self) -> None:
        found = theil_sen(range(2000), [0.3] * 2000)
        assert (found.slope, found.low, found.high) == (0.0, 0.0, 0.0)

    def test_straight_line_is_its_slope(self) -> None:
        found = theil_sen(range(2000), np.arange(2000) * 0.1)
        assert (found.slope, found.low, found.high) == pytest.approx((0.1, 0.1, 0.1), abs=1e-12)
