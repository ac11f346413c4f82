"""Anode input and apparent efficiency: conservation of energy, worked by hand."""

import numpy as np
import pytest

from health.formulas.stage import anode_input_kw, apparent_efficiency

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
