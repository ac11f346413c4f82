"""The stage, the feeder and the modulation against worked values.

Expected values are closed formulas of conservation of energy and of the transmission line, worked
by hand; scikit-rf and a Fourier transform confirm the line and the modulation.
"""

import numpy as np
import pytest
import skrf

from health.formulas import feeder, power, rf, stage

# anode kV, A, output kW, drive kW, feed-through; input kW, tube and apparent efficiency in per
# cent, dissipation kW, dissipation with the drive left out.
STAGES = [
    (11.0, 28.0, 250, 0, 0.0, 308.0, 81.1688, 81.1688, 58.0, 58.0),
    (11.0, 28.0, 250, 12, 0.8, 308.0, 78.0519, 81.1688, 67.6, 58.0),
    (10.0, 31.5, 250, 15, 1.0, 315.0, 74.6032, 79.3651, 80.0, 65.0),
    (12.0, 26.0, 252, 8, 0.75, 312.0, 78.8462, 80.7692, 66.0, 60.0),
]


@pytest.mark.need(41)
@pytest.mark.parametrize("row", STAGES)
def test_drive_that_passes_through_a_grounded_grid(row: tuple[float, ...]) -> None:
    volts, amps, output, drive, part, put_in, tube, apparent, heat, naive = row
    assert stage.anode_input_kw(volts, amps) == pytest.approx(put_in)
    found = stage.tube_efficiency(output, put_in, drive, part)
    assert 100 * found == pytest.approx(tube, abs=5e-5)
    found = stage.apparent_efficiency(output, volts, amps)
    assert 100 * found == pytest.approx(apparent, abs=5e-5)
    assert stage.anode_dissipation_kw(output, put_in, drive, part) == pytest.approx(heat)
    assert stage.anode_dissipation_kw(output, put_in, 0, 0) == pytest.approx(naive)


@pytest.mark.parametrize(
    ("depth", "audio", "heat"), [(0.3, 13.86, 60.61), (0.5, 38.5, 65.25), (1.0, 154.0, 87.0)]
)
def test_modulation_heats_the_anodes(depth: float, audio: float, heat: float) -> None:
    assert stage.modulator_power_kw(308.0, depth) == pytest.approx(audio)
    assert stage.anode_dissipation_kw(250, 308, 0, 0, depth) == pytest.approx(heat)


@pytest.mark.parametrize("part", [-0.1, 1.1, np.nan])
def test_feed_through_outside_its_range_is_missing(part: float) -> None:
    assert np.isnan(stage.tube_efficiency(250.0, 308.0, 12.0, part))


class TestIndirectPower:
    """47 CFR 73.664(c) and 73.1560(a): one country's rules, in the tests alone."""

    @pytest.mark.parametrize(
        ("volts", "amps", "factor", "kw", "percent"),
        [
            (11.0, 28.0, 0.81, 249.480, 99.792),
            (10.5, 29.2, 0.80, 245.280, 98.112),
            (11.2, 27.0, 0.825, 249.480, 99.792),
        ],
    )
    def test_worked_rows(
        self, volts: float, amps: float, factor: float, kw: float, percent: float
    ) -> None:
        found = power.indirect_power_kw(volts, amps, factor)
        assert found == pytest.approx(kw)
        assert power.power_of_authorised_percent(found, 250.0) == pytest.approx(percent)

    @pytest.mark.parametrize(
        ("authorised", "low", "high"), [(250, 225.0, 262.5), (100, 90, 105), (50, 45, 52.5)]
    )
    def test_limits_of_the_tolerance(self, authorised: float, low: float, high: float) -> None:
        found = power.power_of_authorised_percent([low, high], authorised)
        assert found == pytest.approx([90, 105])


def test_power_from_the_mains() -> None:
    assert power.three_phase_power_kw(400, 650, 0.95) == pytest.approx(427.8165, abs=5e-5)
    assert 100 * power.overall_efficiency(250, 420) == pytest.approx(59.5238, abs=5e-5)
    assert 100 * power.overall_efficiency(250, 425) == pytest.approx(58.8235, abs=5e-5)
    assert np.isnan(power.overall_efficiency(250, 0))


@pytest.mark.need(40)
@pytest.mark.parametrize(
    ("first", "second", "percent"),
    [(14.0, 14.0, 0), (14.5, 13.5, 7.1429), (15, 13, 14.2857), (14.2, 0, 200)],
)
def test_pair_balance(first: float, second: float, percent: float) -> None:
    assert stage.pair_balance_points(first, second) == pytest.approx(percent, abs=5e-5)


# power kW, impedance ohm, SWR, depth; volts kV highest and lowest, amps highest and lowest, peak
# kV and A at the crest, RMS A with modulation.
LINES = [
    (250, 300, 1, 1, 8.66025, 8.66025, 28.8675, 28.8675, 24.4949, 81.650, 35.355),
    (250, 300, 2, 1, 12.24745, 6.12372, 40.8248, 20.4124, 34.6410, 115.470, 50.000),
    (250, 600, 1.5, 1, 15.0, 10.0, 25.0, 16.6667, 42.4264, 70.711, 30.619),
    (100, 600, 1, 0, 7.74597, 7.74597, 12.9099, 12.9099, 10.9545, 18.257, 12.910),
    (250, 550, 1.3, 0.8, 13.36974, 10.28442, 24.3086, 18.6989, 34.0338, 61.880, 27.928),
]


@pytest.mark.parametrize("row", LINES)
def test_standing_wave_on_a_feeder(row: tuple[float, ...]) -> None:
    power, ohm, swr, depth, high_v, low_v, high_a, low_a, peak_v, peak_a, rms_a = row
    line = (power, ohm, swr)
    assert feeder.highest_voltage_kv(*line) == pytest.approx(high_v, abs=1e-5)
    assert feeder.lowest_voltage_kv(*line) == pytest.approx(low_v, abs=1e-5)
    assert feeder.highest_current_a(*line) == pytest.approx(high_a, abs=5e-5)
    assert feeder.lowest_current_a(*line) == pytest.approx(low_a, abs=5e-5)
    crest = feeder.crest_factor(depth)
    assert feeder.highest_voltage_kv(*line) * crest == pytest.approx(peak_v, abs=1e-4)
    assert feeder.highest_current_a(*line) * crest == pytest.approx(peak_a, abs=1e-3)
    assert feeder.highest_current_a(*line) * feeder.rms_rise(depth) == pytest.approx(
        rms_a, abs=1e-3
    )


@pytest.mark.parametrize("row", LINES)
def test_high_volts_times_low_amps_is_the_power(row: tuple[float, ...]) -> None:
    line = row[:3]
    assert feeder.highest_voltage_kv(*line) * feeder.lowest_current_a(*line) == pytest.approx(
        row[0]
    )


def test_standing_wave_equals_scikit_rf() -> None:
    """250 kW at a ratio of 2 on 300 ohm, sampled along half a wavelength."""
    reflection = skrf.tlineFunctions.zl_2_Gamma0(300, 600)
    theta = np.linspace(0, np.pi, 2001)
    along = skrf.tlineFunctions.reflection_coefficient_at_theta(reflection, 1j * theta)
    volts = np.sqrt(250e3 / (1 - abs(reflection) ** 2) * 300) * np.abs(1 + along)
    assert volts.max() / 1000 == pytest.approx(feeder.highest_voltage_kv(250, 300, 2), rel=1e-6)
    assert volts.min() / 1000 == pytest.approx(feeder.lowest_voltage_kv(250, 300, 2), rel=1e-5)


@pytest.mark.parametrize(("power", "swr"), [(-1.0, 1.5), (250.0, 0.9), (np.nan, 1.5)])
def test_impossible_line_is_missing(power: float, swr: float) -> None:
    assert np.isnan(feeder.highest_voltage_kv(power, 300, swr))
    assert np.isnan(feeder.lowest_current_a(power, 300, swr))


class TestModulation:
    # depth, power, current, crest power: definitions of amplitude modulation.
    ROWS = [
        (0, 1, 1, 1),
        (0.3, 1.045, 1.022252, 1.69),
        (0.5, 1.125, 1.060660, 2.25),
        (0.8, 1.32, 1.148913, 3.24),
        (1.0, 1.5, 1.224745, 4),
    ]

    @pytest.mark.parametrize(("depth", "power", "current", "crest"), ROWS)
    def test_table(self, depth: float, power: float, current: float, crest: float) -> None:
        assert feeder.rms_rise(depth) == pytest.approx(current, abs=5e-7)
        assert feeder.rms_rise(depth) ** 2 == pytest.approx(power)
        assert (feeder.crest_factor(depth) ** 2 / 2) == pytest.approx(crest)
        assert feeder.depth_from_rise(current) == pytest.approx(depth, abs=5e-6)

    @pytest.mark.parametrize("depth", [0.5, 1.0])
    def test_rise_equals_a_fourier_transform(self, depth: float) -> None:
        time = np.arange(4096) / 4096
        wave = (1 + depth * np.cos(2 * np.pi * 8 * time)) * np.cos(2 * np.pi * 512 * time)
        lines = np.abs(np.fft.rfft(wave)) / 2048
        rms = np.sqrt((lines**2).sum() / lines[512] ** 2)
        assert feeder.rms_rise(depth) == pytest.approx(rms, rel=1e-9)

    def test_current_that_fell_says_nothing(self) -> None:
        assert np.isnan(feeder.depth_from_rise(0.99))


class TestLevels:
    @pytest.mark.parametrize(
        ("watts", "dbw"),
        [(250e3, 53.9794), (500e3, 56.9897), (1e6, 60), (0.05, -13.0103), (1e-3, -30)],
    )
    def test_over_one_watt(self, watts: float, dbw: float) -> None:
        assert rf.level_dbw(watts) == pytest.approx(dbw, abs=5e-5)
        assert rf.level_dbw(watts) == pytest.approx(skrf.mathFunctions.mag_2_db10(watts), abs=1e-9)

    def test_nothing_has_no_level(self) -> None:
        assert np.isnan(rf.level_dbw([0.0, -1.0])).all()

    @pytest.mark.parametrize(
        ("forward", "reflected", "loss"),
        [(250, 2.5, 0.04365), (250, 10, 0.17729), (250, 0.625, 0.01087), (90, 10, 0.51153)],
    )
    def test_mismatch_loss(self, forward: float, reflected: float, loss: float) -> None:
        assert rf.mismatch_loss_db(forward, reflected) == pytest.approx(loss, abs=5e-6)

    @pytest.mark.parametrize("swr", [1.0, 1.2, 1.5, 2.0, 3.0])
    def test_ratio_and_standing_wave_are_inverse(self, swr: float) -> None:
        ratio = rf.ratio_from_swr(swr)
        assert rf.swr(1.0, ratio) == pytest.approx(swr)
        assert np.isnan(rf.ratio_from_swr(0.5))
