"""Anode input and apparent efficiency: conservation of energy, worked by hand."""

import numpy as np
import pytest

from health.formulas.stage import (
    anode_input_kw,
    apparent_efficiency,
    efficiency_with_driver,
    pair_balance_points,
)

# anode kV, anode A, output kW, anode input kW, apparent efficiency %: V times I, P over V I.
ROWS = [
    (11.0, 28.0, 250.0, 308.0, 81.1688),
    (10.0, 31.5, 250.0, 315.0, 79.3651),
    (12.0, 26.0, 252.0, 312.0, 80.7692),
    (10.0, 24.90, 200.0, 249.0, 80.3213),  # demo station, T1 at full power: 80.3 %
    (9.0, 13.91, 100.0, 125.19, 79.8786),  # demo station, T3 at full power: 79.9 %
]


@pytest.mark.parametrize(("volts", "amps", "output", "put_in", "percent"), ROWS)
def test_table_of_worked_rows(
    volts: float, amps: float, output: float, put_in: float, percent: float
) -> None:
    assert anode_input_kw(volts, amps) == pytest.approx(put_in, rel=1e-9)
    assert apparent_efficiency(output, volts, amps) * 100 == pytest.approx(percent, abs=1e-4)


@pytest.mark.parametrize(("volts", "amps"), [(0.0, 28.0), (11.0, 0.0), (np.nan, 28.0)])
def test_no_anode_input_is_missing(volts: float, amps: float) -> None:
    assert np.isnan(apparent_efficiency(250.0, volts, amps))


# first, second, |first - second| over their mean in per cent, worked by hand.
BALANCE = [(14.0, 14.0, 0.0), (14.5, 13.5, 7.1429), (13.5, 14.5, -7.1429), (15.0, 13.0, 14.2857)]


@pytest.mark.parametrize(("first", "second", "points"), BALANCE)
def test_pair_balance(first: float, second: float, points: float) -> None:
    assert pair_balance_points(first, second) == pytest.approx(points, abs=1e-4)


def test_pair_that_reads_nothing_has_no_balance() -> None:
    assert np.isnan(pair_balance_points(0.0, 0.0))


def test_driver_counted_lowers_the_efficiency() -> None:
    """Demo station, T1: 200 / (249 + 36) = 70.18 %."""
    assert efficiency_with_driver(200.0, 249.0, 36.0) == pytest.approx(0.7018, abs=1e-4)
    assert np.isnan(efficiency_with_driver(200.0, 249.0, np.nan))
