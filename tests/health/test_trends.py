"""Trends and times to a limit, against pymannkendall, scipy and statsmodels (values read there)."""

import numpy as np
import pytest

from health.statistics.trends import (
    least_squares,
    mann_kendall,
    theil_sen,
    time_to_limit,
)

A = [10.0, 10.1, 10.3, 10.2, 10.5, 10.4, 10.7, 10.6, 10.9, 14.0]
B = [5, 6, 6, 7, 8, 8, 9, 7, 10, 12]
C = [3, 1, 4, 1, 5, 9, 2, 6]
FALLING = [100.2, 99.7, 99.9, 99.4, 99.1, 99.2, 98.6, 98.5, 98.2, 97.9]


class TestMannKendall:
    @pytest.mark.parametrize(
        ("y", "s", "variance", "z", "p"),
        [
            (A, 39, 125, 3.398823, 0.00067676),
            (B, 36, 122, 3.168751, 0.00153095),
            (C, 11, 64.3333, 1.246757, 0.212486),
            (FALLING, -41, 125, -3.577709, 0.00034662),
        ],
    )
    def test_worked_sets(self, y: list[float], s: int, variance: float, z: float, p: float) -> None:
        found = mann_kendall(y)
        assert found.s == s
        assert found.variance == pytest.approx(variance, abs=5e-5)
        assert found.z == pytest.approx(z, abs=5e-7)
        assert found.p == pytest.approx(p, abs=5e-7)

    def test_all_equal_have_no_trend(self) -> None:
        found = mann_kendall([4.0] * 12)
        assert (found.s, found.z, found.p) == (0, 0.0, 1.0)

    def test_one_point_says_nothing(self) -> None:
        assert np.isnan(mann_kendall([1.0]).p)


class TestTheilSen:
    @pytest.mark.parametrize(
        ("x", "y", "slope", "low", "high"),
        [
            (range(10), A, 0.1125, 0.085714, 0.3),
            (range(1, 11), B, 0.666667, 0.5, 0.833333),
            (range(8), C, 0.464286, -0.666667, 2.0),
            (range(10), FALLING, -0.25, -0.30, -0.20),
        ],
    )
    def test_worked_sets(
        self, x: range, y: list[float], slope: float, low: float, high: float
    ) -> None:
        found = theil_sen(x, y)
        assert (found.slope, found.low, found.high) == pytest.approx((slope, low, high), abs=5e-7)

    def test_one_wrong_point_does_not_move_it(self) -> None:
        """Least squares follow it to 0.269697, the robust slope stays at 0.1125."""
        assert least_squares(range(10), A).slope == pytest.approx(0.269697, abs=5e-7)
        assert theil_sen(range(10), A).slope == pytest.approx(0.1125)
        assert theil_sen(range(9), A[:-1]).slope == pytest.approx(0.1, abs=0.02)

    def test_other_confidence(self) -> None:
        found = theil_sen(range(10), A, confidence=0.9)
        assert (found.low, found.high) == pytest.approx((0.1, 0.2))

    @pytest.mark.parametrize("x", [[1.0], [2.0, 2.0]])
    def test_no_span_no_slope(self, x: list[float]) -> None:
        assert theil_sen(x, [1.0] * len(x)) is None

    def test_missing_pair_is_left_out(self) -> None:
        found = theil_sen([0, 1, 2, 3], [0.0, np.nan, 2.0, 3.0])
        assert found.slope == pytest.approx(1.0)


@pytest.mark.need(67)
class TestTimeToLimit:
    LINE = least_squares(range(10), FALLING)

    def test_line(self) -> None:
        line = self.LINE
        assert line.slope == pytest.approx(-0.245455, abs=5e-7)
        assert line.intercept == pytest.approx(100.174545, abs=5e-7)
        assert line.scatter == pytest.approx(0.154331, abs=5e-7)
        assert line.slope_error == pytest.approx(0.016991, abs=5e-7)

    def test_band_of_the_line(self) -> None:
        found = time_to_limit(self.LINE, 95.0)
        assert found.at == pytest.approx(21.081481, abs=5e-7)
        assert (found.low, found.high) == pytest.approx((18.75950779, 24.27060891), abs=1e-7)

    def test_band_of_one_reading(self) -> None:
        found = time_to_limit(self.LINE, 95.0, of_one_reading=True)
        assert (found.low, found.high) == pytest.approx((18.39251288, 24.63760424), abs=1e-6)

    def test_slope_that_is_none_has_no_reliable_date(self) -> None:
        assert time_to_limit(least_squares(range(8), C), 20.0) is None

    def test_level_has_no_date(self) -> None:
        assert time_to_limit(least_squares(range(9), [5.0] * 9), 4.0) is None

    def test_no_scatter_gives_one_instant(self) -> None:
        found = time_to_limit(least_squares(range(5), [10.0, 9.0, 8.0, 7.0, 6.0]), 0.0)
        assert (found.low, found.at, found.high) == pytest.approx((10.0, 10.0, 10.0))

    @pytest.mark.parametrize("x", [[0, 1], [2, 2, 2]])
    def test_too_little_is_no_line(self, x: list[float]) -> None:
        assert least_squares(x, [1.0] * len(x)) is None
