"""The filament: power, hot resistance, tungsten's own thermometer."""

import numpy as np
import pytest

from health.formulas import filament


@pytest.mark.parametrize(
    ("volts", "amps", "watts", "ohm"),
    [
        (12.0, 120, 1440, 0.100000),
        (7.5, 51, 382.5, 0.147059),
        (10, 295, 2950, 0.033898),
        (18, 460, 8280, 0.039130),
    ],
)
def test_power_and_hot_resistance(volts: float, amps: float, watts: float, ohm: float) -> None:
    assert filament.filament_power_w(volts, amps) == pytest.approx(watts)
    assert filament.hot_resistance_ohm(volts, amps) == pytest.approx(ohm, abs=5e-7)
    assert np.isnan(filament.hot_resistance_ohm(volts, 0))


class TestTungsten:
    """The table attributed to Forsythe and Worthing (1925)."""

    @pytest.mark.parametrize(
        ("kelvin", "ratio"),
        [(1000, 4.412), (1900, 9.442), (2000, 10.030), (2500, 13.081), (2600, 13.715)],
    )
    def test_ratio(self, kelvin: float, ratio: float) -> None:
        assert filament.resistance_ratio(kelvin) == pytest.approx(ratio, abs=1e-3)

    @pytest.mark.parametrize(
        ("ratio", "kelvin"),
        [(9.0, 1824.2), (10.0, 1994.9), (12.0, 2325.6), (13.02, 2490.1), (14.0, 2645.4)],
    )
    def test_temperature(self, ratio: float, kelvin: float) -> None:
        assert filament.temperature_from_ratio_k(ratio) == pytest.approx(kelvin, abs=0.1)

    def test_outside_the_table_is_missing(self) -> None:
        assert np.isnan(filament.resistance_ratio([299, 3601])).all()
        assert np.isnan(filament.temperature_from_ratio_k([0.9, 20.4])).all()


@pytest.mark.need(61)
class TestLife:
    @pytest.mark.parametrize(("ratio", "factor"), [(0.99, 1.1396), (0.95, 1.948), (0.85, 8.271)])
    def test_rule_of_thumb_of_pure_tungsten(self, ratio: float, factor: float) -> None:
        """With 13 for the exponent, as lamps are quoted (from memory)."""
        assert filament.life_factor(ratio, 13.0) == pytest.approx(factor, rel=2e-4)

    @pytest.mark.parametrize(
        ("ratio", "exponent", "factor"),
        [(0.95, 13.51, 2.0), (0.85, 14.17, 10.0), (1.03, 22.8, 0.51), (1.06, 22.8, 0.265)],
    )
    def test_published_statements(self, ratio: float, exponent: float, factor: float) -> None:
        """5 % down doubles, 15 % down is almost tenfold; 3 % more halves: none is a law."""
        assert filament.life_factor(ratio, exponent) == pytest.approx(factor, rel=0.03)

    def test_without_an_exponent_nothing_is_said(self) -> None:
        assert np.isnan(filament.life_factor(0.95, np.nan))


@pytest.mark.need(62)
class TestLoweredPower:
    def test_it_lies_between_the_square_and_the_ratio(self) -> None:
        """4320 W at 80 %: 0.64 x 4320 = 2764.8, 0.8 x 4320 = 3456."""
        assert filament.lowered_power_w(4320.0, 0.8) == pytest.approx((2764.8, 3456.0))

    def test_glowing_tungsten_lies_inside(self) -> None:
        """A wire of 2000 K at 80 % of its volts settles near 1838 K: its R goes from 10.0301 to
        9.08 times the cold one (the table), so V^2/R is 0.64 x 10.0301 / 9.08 = 0.707 of the
        power, and what it radiates (1838/2000)^4 = 0.713 of it."""
        least, most = filament.lowered_power_w(1.0, 0.8)
        assert least < 0.71 < most
