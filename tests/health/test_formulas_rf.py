"""Reflection: the standard's closed formulas, confirmed by scikit-rf."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import skrf

from health.formulas.rf import (
    mismatch_loss_db,
    output_power,
    ratio_from_swr,
    reflection_ratio,
    return_loss_db,
    swr,
)

HERE = Path(__file__).parent

# forward W, reflected W, |G|, SWR, return loss dB, net W: definitions of IEC 60050-726.
ROWS = [
    (250000, 2500, 0.100000, 1.222222, 20.0000, 247500),
    (250000, 10000, 0.200000, 1.500000, 13.9794, 240000),
    (250000, 625, 0.050000, 1.105263, 26.0206, 249375),
    (100000, 11111.1111, 0.333333, 2.000000, 9.5424, 88888.9),
]


@pytest.mark.parametrize(("forward", "reflected", "gamma", "s", "loss", "net"), ROWS)
def test_table_of_the_definitions(
    forward: float, reflected: float, gamma: float, s: float, loss: float, net: float
) -> None:
    assert reflection_ratio(forward, reflected) == pytest.approx(gamma**2, rel=1e-5)
    assert swr(forward, reflected) == pytest.approx(s, rel=1e-6)
    assert return_loss_db(forward, reflected) == pytest.approx(loss, abs=1e-4)
    assert output_power(forward, reflected) == pytest.approx(net, rel=1e-6)


def test_table_of_standing_wave_ratios() -> None:
    """data by scikit-rf: ratio, reflected part and losses of standing waves from 1 to 10."""
    table = pd.read_csv(HERE / "vswr_table.csv", comment="#").query("vswr > 1")
    reflected = ratio_from_swr(table["vswr"])
    assert 100 * reflected == pytest.approx(table["reflected_percent"], abs=1e-4)
    assert swr(1.0, reflected) == pytest.approx(table["vswr"])
    assert return_loss_db(1.0, reflected) == pytest.approx(table["return_loss_dB"], abs=1e-4)
    assert mismatch_loss_db(1.0, reflected) == pytest.approx(table["mismatch_loss_dB"], abs=1e-5)


@pytest.mark.parametrize("gamma", [0.01, 0.1, 0.2, 0.5, 0.9])
def test_standing_wave_ratio_equals_scikit_rf(gamma: float) -> None:
    network = skrf.Network(f=[10e6], f_unit="hz", s=[[[gamma]]], z0=300)
    assert swr(1.0, gamma**2) == pytest.approx(network.s_vswr[0, 0, 0], rel=1e-12)
    assert return_loss_db(1.0, gamma**2) == pytest.approx(-network.s_db[0, 0, 0], rel=1e-9)


def test_nothing_reflected_is_ratio_one_and_no_return_loss() -> None:
    assert swr(250.0, 0.0) == 1.0
    assert np.isnan(return_loss_db(250.0, 0.0))


@pytest.mark.parametrize(
    ("forward", "reflected"),
    [(0, 0), (10, 10), (10, 11), (-1, 0), (10, -1), (np.nan, 1), (1, np.nan)],
)
def test_impossible_pair_is_missing(forward: float, reflected: float) -> None:
    assert np.isnan(swr(forward, reflected))
    assert np.isnan(output_power(forward, reflected))


def test_arrays_keep_their_shape() -> None:
    assert swr(np.full((2, 3), 100.0), np.full((2, 3), 4.0)).shape == (2, 3)
