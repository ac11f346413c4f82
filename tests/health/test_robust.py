"""Centre and scatter against NIST's and scipy's values, and on coarse meters."""

import numpy as np
import pytest
from scipy.stats import median_abs_deviation

from health.statistics.robust import (
    censored_sigma,
    clipped_centre,
    median_absolute_deviation,
    robust_sigma,
    working_sigma,
)

A = [10.0, 10.1, 10.3, 10.2, 10.5, 10.4, 10.7, 10.6, 10.9, 14.0]


class TestRobustSigma:
    def test_worked_set(self) -> None:
        assert np.median(A) == pytest.approx(10.45)
        assert median_absolute_deviation(A) == pytest.approx(0.25)
        assert robust_sigma(A) == pytest.approx(0.370651, abs=5e-7)

    def test_equals_scipy(self) -> None:
        values = np.random.default_rng(7).normal(12.4, 0.3, 200)
        assert robust_sigma(values) == pytest.approx(median_abs_deviation(values, scale="normal"))

    @pytest.mark.parametrize("values", [[1.0, 1.0, 1.0, 9.0], [], [np.nan]])
    def test_nothing_may_be_divided_by_it(self, values: list[float]) -> None:
        assert np.isnan(robust_sigma(values))

    def test_missing_values_are_left_out(self) -> None:
        assert robust_sigma([*A, np.nan]) == robust_sigma(A)


class TestCoarseMeters:
    """Steps of 0.2 on a true value of 12.47 with a sigma of 0.06."""

    STEP = 0.2

    def read(self, count: int = 400) -> np.ndarray:
        true = np.random.default_rng(3).normal(12.47, 0.06, count)
        return np.round(true / self.STEP) * self.STEP

    def test_clipped_mean_lies_nearer_than_the_median(self) -> None:
        centre, _sigma = clipped_centre(self.read(), self.STEP)
        assert abs(centre - 12.47) < abs(np.median(self.read()) - 12.47)
        assert centre == pytest.approx(12.47, abs=0.03)

    def test_slip_does_not_move_it(self) -> None:
        with_slip = np.append(self.read(40), 124.0)
        centre, sigma = clipped_centre(with_slip, self.STEP)
        clean, _sigma = clipped_centre(self.read(40), self.STEP)
        assert centre == pytest.approx(clean)
        assert sigma < 0.2

    def test_difference_of_one_step_is_within_two_sigma(self) -> None:
        """Whatever was read, sigma is at least half a step."""
        assert working_sigma([12.4] * 30, self.STEP) == pytest.approx(0.1)
        assert clipped_centre([12.4] * 30, self.STEP) == pytest.approx((12.4, 0.1))

    def test_rounding_is_taken_out(self) -> None:
        """A sigma of 0.3 in steps of 0.2 comes back within its own scatter."""
        true = np.random.default_rng(5).normal(50, 0.3, 5000)
        read = np.round(true / self.STEP) * self.STEP
        assert censored_sigma(read, self.STEP) == pytest.approx(0.3, rel=0.03)
        assert working_sigma(read, self.STEP) == pytest.approx(0.3, rel=0.06)

    @pytest.mark.parametrize("values", [[], [1.0], [np.nan, 1.0]])
    def test_fewer_than_two_have_no_scatter(self, values: list[float]) -> None:
        assert np.isnan(working_sigma(values, 0.1))
        assert np.isnan(censored_sigma(values, 0.1))

    def test_nothing_read_has_no_centre(self) -> None:
        assert np.isnan(clipped_centre([], 0.1)).all()
