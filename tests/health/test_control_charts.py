"""Control charts equal to the worked examples of the NIST/SEMATECH e-Handbook."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from health.statistics.control import cusum, ewma, ewma_half_width, individuals, run_rules

HERE = Path(__file__).parent


class TestCumulativeSums:
    """6.3.2.3: target 325, k 0.3175, h 4.1959; every printed cell."""

    TABLE = pd.read_csv(HERE / "nist_6_3_2_3_cusum.csv", comment="#")

    def test_every_cell(self) -> None:
        found = cusum(self.TABLE["x"], 325, 0.3175, 4.1959)
        assert found.high == pytest.approx(self.TABLE["s_hi_published"], abs=0.006)
        assert found.low == pytest.approx(self.TABLE["s_lo_published"], abs=0.006)
        assert found.high == pytest.approx(self.TABLE["s_hi_computed"], abs=5e-5)

    def test_first_signal_at_observation_14(self) -> None:
        found = cusum(self.TABLE["x"], 325, 0.3175, 4.1959)
        assert int(np.argmax(found.signals)) + 1 == 14
        assert found.high[13] == pytest.approx(4.94)
        assert found.low.max() == pytest.approx(0.715)

    def test_missing_value_changes_nothing(self) -> None:
        with_gap = cusum([1.0, np.nan, 1.0], 0, 0.5, 9)
        assert with_gap.high.tolist() == [0.5, 0.5, 1.0]

    def test_constant_at_the_target_never_signals(self) -> None:
        assert not cusum(np.full(1000, 5.0), 5.0, 0.0, 1.0).signals.any()


class TestWeightedMean:
    """6.3.2.4: weight 0.3, start 50, s 2.0539."""

    TABLE = pd.read_csv(HERE / "nist_6_3_2_4_ewma.csv", comment="#")

    def test_every_cell_and_pandas(self) -> None:
        found = ewma(self.TABLE["y"], 0.3, 50.0)
        assert found == pytest.approx(self.TABLE["ewma_published"], abs=0.006)
        by_pandas = pd.Series([50.0, *self.TABLE["y"]]).ewm(alpha=0.3, adjust=False).mean()[1:]
        assert found == pytest.approx(by_pandas.to_numpy())

    def test_limits(self) -> None:
        steady = ewma_half_width(2.0539, 0.3, 3.0)
        assert 50 + steady == pytest.approx(52.5884, abs=1e-3)
        assert 50 - steady == pytest.approx(47.4115, abs=1e-3)
        begun = 50 + ewma_half_width(2.0539, 0.3, 3.0, self.TABLE["t"])
        assert begun == pytest.approx(self.TABLE["ucl_time_varying_computed"], abs=1e-4)

    def test_no_point_of_the_example_is_outside(self) -> None:
        found = ewma(self.TABLE["y"], 0.3, 50.0)
        assert (np.abs(found - 50) < ewma_half_width(2.0539, 0.3, 3.0)).all()

    def test_missing_value_leaves_the_mean(self) -> None:
        assert ewma([1.0, np.nan], 0.5, 0.0).tolist() == [0.5, 0.5]


class TestIndividuals:
    def test_worked_example(self) -> None:
        """6.3.2.2: flow rates of ten batches."""
        table = pd.read_csv(HERE / "nist_6_3_2_2_individuals.csv", comment="#")
        found = individuals(table["x"])
        assert found.centre == pytest.approx(50.81)
        assert found.mean_range == pytest.approx(1.8778, abs=5e-5)
        assert found.high == pytest.approx(55.8041, abs=5e-5)
        assert found.low == pytest.approx(45.8159, abs=5e-5)
        assert found.range_high == pytest.approx(6.1347, abs=5e-5)

    @pytest.mark.parametrize("values", [[], [1.0], [np.nan, 2.0]])
    def test_too_few_say_nothing(self, values: list[float]) -> None:
        assert np.isnan(individuals(values).high)

    def test_all_equal_have_no_width(self) -> None:
        found = individuals([5.0] * 9)
        assert (found.low, found.high) == (5.0, 5.0)


def first_signals(z: list[float]) -> dict[str, int]:
    """Rule and the 1-based place of its first signal."""
    found = run_rules(z)
    return {name: int(np.argmax(marks)) + 1 for name, marks in found.items() if marks.any()}


class TestRunRules:
    """Western Electric 1956 and Nelson 1984 (from memory); signals by a brute-force script."""

    @pytest.mark.parametrize(
        ("z", "signals"),
        [
            ([0.1, -0.3, 0.4, 3.2], {"one beyond 3": 4}),
            ([0.5, 2.1, 0.4, 2.3], {"two of three beyond 2": 4}),
            ([0.5, 2.1, 0.4, -2.3], {}),
            ([0.2, 1.1, 1.3, 0.4, 1.2, 1.5], {"four of five beyond 1": 6}),
            (
                [-0.2, 0.3, 0.6, 0.2, 0.9, 0.4, 0.1, 0.7, 0.5, 0.2],
                {"eight on one side": 9, "nine on one side": 10},
            ),
            ([-0.9, -0.5, -0.2, 0.1, 0.4, 0.8, 0.3], {"six rising or falling": 6}),
            ([0.5, -0.5] * 7, {"fourteen alternating": 14}),
            (
                [0.2, -0.4, 0.6, -0.1, 0.3, -0.7, 0.8, 0.1, -0.2, 0.5, -0.6, 0.4, 0.9, -0.3, 0.1],
                {"fifteen within 1": 15},
            ),
            ([1.2, -1.3, 1.4, -1.1, 1.6, 1.2, -1.5, 1.3], {"eight beyond 1": 8}),
            ([3.0, -3.0, 2.0, 2.0], {}),
        ],
    )
    def test_sequences(self, z: list[float], signals: dict[str, int]) -> None:
        assert first_signals(z) == signals

    def test_missing_point_breaks_every_run(self) -> None:
        assert first_signals([0.5] * 4 + [np.nan] + [0.5] * 4) == {}

    def test_nothing_is_no_signal(self) -> None:
        assert first_signals([]) == {}
