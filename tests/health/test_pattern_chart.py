"""The multivariate chart against values from outside: by hand, chi square, published run length."""

import numpy as np
import pytest
from scipy import stats

from health.statistics.pattern import (
    Chart,
    Weighted,
    fitted,
    least_usual,
    related_factor,
    scores,
    shares,
    shrunk_correlation,
    sizes,
    usual_size,
    weighted_means,
)

PAIR = Chart(np.zeros(2), np.ones(2), np.array([[1.0, 0.6], [0.6, 1.0]]), weight=1.0)


class TestStatistic:
    def test_two_columns_by_hand(self) -> None:
        """R = [1 0.6; 0.6 1], R^-1 = [1 -0.6; -0.6 1] / 0.64: of (1, 1) 0.8 / 0.64 = 1.25, of
        (1, -1) 3.2 / 0.64 = 5, of (2, 0) 4 / 0.64 = 6.25."""
        found = sizes(PAIR, weighted_means([[1.0, 1.0], [1.0, -1.0], [2.0, 0.0]], 1.0))
        assert found == pytest.approx([1.25, 5.0, 6.25])

    def test_columns_that_part_are_stranger_than_columns_that_go_together(self) -> None:
        """Both are one sigma away; by chi square of two only 8 % of the rows part so far."""
        together, apart = sizes(PAIR, weighted_means([[1.0, 1.0], [1.0, -1.0]], 1.0))
        assert stats.chi2.sf([together, apart], 2) == pytest.approx([0.535, 0.0821], abs=1e-3)

    def test_squares_of_the_scores_add_up_to_it(self) -> None:
        rows = np.random.default_rng(4).normal(size=(20, 2))
        means = weighted_means(rows, 1.0)
        assert (scores(PAIR, means) ** 2).sum(axis=1) == pytest.approx(sizes(PAIR, means))

    def test_independent_rows_go_as_chi_square(self) -> None:
        """5 % and 1 % of 40 000 rows of known correlation lie beyond its quantiles."""
        rng = np.random.default_rng(5)
        rows = rng.multivariate_normal([0, 0], PAIR.correlation, size=40_000)
        found = sizes(PAIR, weighted_means(rows, 1.0))
        for level in (0.05, 0.01):
            beyond = (found > stats.chi2.isf(level, 2)).mean()
            assert beyond == pytest.approx(level, rel=0.1)


class TestRunLength:
    def test_published_limit_gives_the_published_run_length(self) -> None:
        """Lowry et al. 1992: two columns, weight 0.1, limit 8.66, an in-control mean run length of
        200 (from memory). Of 800 runs the mean is known to some 7 rows; a run that has not ended
        after 2000 rows counts as so long."""
        runs, rows = 800, 2000
        table = np.random.default_rng(6).normal(size=(rows, 2 * runs))
        means = weighted_means(table, 0.1)
        chart = Chart(np.zeros(2), np.ones(2), np.eye(2), weight=0.1)
        lengths = []
        for run in range(runs):
            own = slice(2 * run, 2 * run + 2)
            is_beyond = sizes(chart, Weighted(means.mean[:, own], means.behind[:, own])) > 8.66
            lengths.append(int(is_beyond.argmax()) + 1 if is_beyond.any() else rows)
        assert np.mean(lengths) == pytest.approx(200, abs=21)


class TestWeightedMeans:
    def test_missing_is_never_zero(self) -> None:
        found = weighted_means([[8.0, np.nan], [np.nan, np.nan], [4.0, 2.0]], 0.5)
        assert found.mean.tolist() == [[4.0, 0.0], [4.0, 0.0], [4.0, 1.0]]
        assert found.behind.tolist() == [[0.5, 0.0], [0.5, 0.0], [0.75, 0.5]]

    def test_column_without_a_value_carries_nothing(self) -> None:
        means = weighted_means([[2.0, np.nan]], 1.0)
        assert sizes(PAIR, means) == pytest.approx([2**2 / 0.64])
        assert sizes(PAIR, weighted_means([[np.nan, np.nan]], 1.0)).tolist() == [0.0]

    def test_mean_of_a_constant_is_centred(self) -> None:
        """About its own centre it is nowhere, from the first row on."""
        chart = Chart(np.array([7.0]), np.ones(1), np.eye(1), weight=0.3)
        assert sizes(chart, weighted_means([[7.0]] * 4, 0.3)) == pytest.approx([0.0] * 4)


class TestShares:
    def test_unrelated_columns_carry_their_squares(self) -> None:
        assert shares([3.0, 0.0, -1.0]).tolist() == [0.9, 0.0, 0.1]

    def test_two_that_part_carry_half_each(self) -> None:
        (own,) = scores(PAIR, weighted_means([[1.0, -1.0]], 1.0))
        assert shares(own) == pytest.approx([0.5, 0.5])

    def test_nothing_is_carried_by_none(self) -> None:
        assert shares([0.0, 0.0]).tolist() == [0.0, 0.0]


class TestCorrelation:
    def test_many_rows_leave_it_as_it_is(self) -> None:
        rows = np.random.default_rng(7).multivariate_normal([0, 0], PAIR.correlation, size=20_000)
        assert shrunk_correlation(rows)[0, 1] == pytest.approx(0.6, abs=0.02)

    @pytest.mark.parametrize("rows", [2, 5, 30])
    def test_few_rows_of_many_columns_can_be_inverted(self, rows: int) -> None:
        table = np.random.default_rng(8).normal(size=(rows, 40))
        table[:, 1] = table[:, 0]  # the same twice
        table[:, 2] = 0.0  # and one that never moves
        found = shrunk_correlation(table)
        assert np.linalg.eigvalsh(found).min() > 0
        assert np.diag(found) == pytest.approx(np.ones(40))

    def test_columns_that_never_move_are_unrelated(self) -> None:
        assert shrunk_correlation(np.zeros((9, 3))).tolist() == np.eye(3).tolist()


class TestReference:
    def test_related_values_widen_by_the_law_of_autoregression(self) -> None:
        """f = 0.5, w = 0.2: the weighted mean of a long first-order autoregression of unit variance
        scatters by sqrt(0.2 / 1.8 (1 + 0.4) / (1 - 0.4)) = 0.509."""
        rng = np.random.default_rng(9)
        row, values = 0.0, []
        for noise in rng.normal(scale=np.sqrt(0.75), size=60_000):
            row = 0.5 * row + noise
            values.append([row])
        spread = weighted_means(values, 0.2).mean[100:].std()
        assert spread == pytest.approx(0.509, rel=0.02)
        factor = float(related_factor([0.5], 0.2)[0])
        assert factor * np.sqrt(0.2 / 1.8) == pytest.approx(0.509, abs=1e-3)

    def test_constant_column_has_the_floor_for_a_sigma(self) -> None:
        chart = fitted([[1.0, 5.0], [2.0, 5.0], [3.0, 5.0]] * 5, weight=1.0, floor=[0.1, 0.25])
        assert chart.sigma[1] == 0.25
        assert np.isfinite(sizes(chart, weighted_means([[2.0, 9.0]], 1.0))).all()

    def test_held_out_rows_make_the_limit(self) -> None:
        """By hand, each row against mean and sigma of the four others: 0.794, 0.237, 0.018, 0.237
        and (9 - 2)^2 / (2 / 3) = 73.5; their mean is 14.96."""
        found = usual_size([[1.0], [2.0], [3.0], [2.0], [9.0]], weight=1.0, floor=[0.5])
        assert found == pytest.approx(14.96, abs=0.01)

    def test_reference_that_never_moves_still_has_a_limit(self) -> None:
        """Chi square of two that one row of 20 passes: -2 ln 0.05 = 5.99."""
        found = usual_size([[1.0, 2.0]] * 20, weight=0.5, floor=[0.1, 0.1])
        assert found == pytest.approx(5.99, abs=0.01)
        assert least_usual(20, 2) == pytest.approx(stats.chi2.isf(0.05, 2))

    def test_level_that_the_rest_did_not_have_raises_it(self) -> None:
        """The same fifty numbers, once mixed and once with each part at a level of its own."""
        levels = np.repeat([0.0, 1.0, 2.0, 3.0, 10.0], 10)[:, None]
        mixed = np.random.default_rng(10).permutation(levels)
        apart, together = (usual_size(rows, weight=1.0, floor=[0.5]) for rows in (levels, mixed))
        assert apart > 2 * together
