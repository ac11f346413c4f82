"""Heat in water and steam, conductivity and leakage, against IAPWS and read tables."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from iapws import IAPWS97

from health.formulas import cooling, water

HERE = Path(__file__).parent

# flow L/min, inlet C, outlet C: kW by IAPWS-IF97 with the meter at the inlet.
STREAMS = [
    (100, 30, 40, 69.346),
    (300, 40, 55, 311.003),
    (400, 35, 60, 692.443),
    (600, 50, 62.5, 516.423),
    (10, 20, 30, 6.957),
]


class TestWater:
    @pytest.mark.parametrize(("flow", "inlet", "outlet", "kw"), STREAMS)
    def test_worked_streams(self, flow: float, inlet: float, outlet: float, kw: float) -> None:
        assert cooling.heat_in_water_kw(flow, inlet, outlet) == pytest.approx(kw, rel=1e-3)

    @pytest.mark.parametrize("temperature", [1.0, 22.5, 41.0, 63.0, 88.8])
    def test_density_equals_iapws(self, temperature: float) -> None:
        state = IAPWS97(T=temperature + 273.15, P=0.101325)
        assert cooling.water_density_kg_m3(temperature) == pytest.approx(state.rho, rel=1e-4)

    def test_outside_the_range_is_missing(self) -> None:
        assert np.isnan(cooling.heat_in_water_kw(100, 30, 101))
        assert np.isnan(cooling.water_density_kg_m3(-1))

    def test_colder_outlet_is_below_zero(self) -> None:
        assert cooling.heat_in_water_kw(100, 40, 30) < 0


class TestSteam:
    # heat kW, condensate C, kg/min, steam m3/min: IAPWS-95 by iapws and CoolProp.
    @pytest.mark.parametrize(
        ("kw", "back", "kg_min", "volume"),
        [
            (100, 100, 2.6590, 4.4455),
            (100, 60, 2.4749, 4.1377),
            (150, 50, 3.6494, 6.1013),
            (250, 70, 6.2959, 10.5259),
        ],
    )
    def test_worked_rates(self, kw: float, back: float, kg_min: float, volume: float) -> None:
        rate = cooling.steam_rate_kg_h(kw, back)
        assert rate / 60 == pytest.approx(kg_min, abs=1e-3)
        assert cooling.steam_volume_m3_min(rate) == pytest.approx(volume, rel=2e-4)
        assert cooling.heat_in_steam_kw(rate, back) == pytest.approx(kw)

    def test_boiling_water_and_steam_equal_iapws(self) -> None:
        liquid, steam = IAPWS97(T=373.15, x=0), IAPWS97(T=373.15, x=1)
        rise = 3600 * 100 / float(cooling.steam_rate_kg_h(100, 100))
        assert rise == pytest.approx(steam.h - liquid.h, rel=1e-4)

    def test_balance_over_its_own_dissipation(self) -> None:
        assert cooling.heat_balance(57.0, 60.0) == pytest.approx(0.95)
        assert np.isnan(cooling.heat_balance(57.0, 0.0))


@pytest.mark.need(65)
class TestConductivity:
    @pytest.mark.parametrize(
        ("conductivity", "resistivity"),
        [(0.055, 18.18), (0.1, 10), (0.5, 2), (1, 1), (5, 0.2), (10, 0.1)],
    )
    def test_resistivity_is_the_inverse(self, conductivity: float, resistivity: float) -> None:
        assert water.resistivity_mohm_cm(conductivity) == pytest.approx(resistivity, rel=1e-3)
        assert np.isnan(water.resistivity_mohm_cm(0))

    @pytest.mark.parametrize(
        ("read", "temperature", "per_k", "at_25"),
        [
            (1.0, 20, 0.02, 1.111111),
            (1.0, 40, 0.02, 0.769231),
            (2.5, 45, 0.02, 1.785714),
            (0.5, 60, 0.022, 0.282486),
        ],
    )
    def test_linear_law(self, read: float, temperature: float, per_k: float, at_25: float) -> None:
        found = water.conductivity_at_25_us_cm(read, temperature, per_k)
        assert found == pytest.approx(at_25, abs=5e-7)

    def test_standard_solution_shows_where_the_law_holds(self) -> None:
        """Of 84 uS/cm at 25 C, by a laboratory meter's table: a = 0.0195 per K."""
        table = pd.read_csv(HERE / "kcl_84us_standard.csv", comment="#")
        found = water.conductivity_at_25_us_cm(table["uS_per_cm"], table["temperature_C"], 0.0195)
        doubtful = water.is_compensation_doubtful(table["temperature_C"])
        assert found[~doubtful] == pytest.approx(84.0, rel=6e-3)
        assert np.abs(found[doubtful] / 84.0 - 1).max() > 0.2

    @pytest.mark.parametrize(
        ("temperature", "expected", "within"),
        [(25, 0.05501, 1e-6), (100, 0.7728, 1e-6), (50, 0.1718, 0.02), (30, 0.0712, 0.02)],
    )
    def test_pure_water(self, temperature: float, expected: float, within: float) -> None:
        """25 and 100 C after Morash and others; between them the same form by iapws, in 2 %."""
        assert water.pure_water_us_cm(temperature) == pytest.approx(expected, rel=within)

    def test_trace_of_salt_by_the_purest_waters_own_law(self) -> None:
        """1 ug/L of NaCl adds 0.002164 uS/cm at 25 C: 17.4905 Mohm.cm for 18.18."""
        traced = water.impurity_at_25_us_cm(0.05501 + 0.002164, 25.0)
        assert water.resistivity_mohm_cm(traced) == pytest.approx(17.4905, abs=5e-4)

    def test_below_pure_water_the_cell_is_wrong(self) -> None:
        assert np.isnan(water.impurity_at_25_us_cm(0.1, 45.0))


class TestLeakage:
    @pytest.mark.parametrize(
        ("kv", "metres", "bore", "conductivity", "mohm", "ma"),
        [
            (10, 1.0, 25, 1.0, 20.37183, 0.49087),
            (10, 2.0, 40, 1.0, 15.91549, 0.62832),
            (15, 3.0, 32, 0.5, 74.60388, 0.20106),
            (15, 3.0, 32, 5.0, 7.46039, 2.01062),
            (20, 5.0, 50, 2.0, 12.73240, 1.57080),
            (12, 1.5, 20, 0.1, 477.46483, 0.02513),
        ],
    )
    def test_worked_hoses(
        self, kv: float, metres: float, bore: float, conductivity: float, mohm: float, ma: float
    ) -> None:
        hose = (metres, bore, conductivity)
        assert water.hose_resistance_mohm(*hose) == pytest.approx(mohm, abs=1e-5)
        assert water.leakage_current_ma(kv, *hose) == pytest.approx(ma, abs=5e-6)
        assert water.leakage_current_ma(kv, *hose, hoses=2) == pytest.approx(2 * ma, abs=1e-5)
