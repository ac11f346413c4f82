"""The week's series, from hours small enough to work by hand: two hours a week."""

import numpy as np
import pytest

from health.boards.week_panels import Panel, WeekOfMeters, panels_of
from station.models import Meter, Stage

FINAL, DRIVER = Stage(code="final"), Stage(code="driver")


def meter(pk: int, quantity: str, unit: str, stage: Stage | None = None) -> Meter:
    return Meter(pk=pk, quantity=quantity, unit=unit, label=f"meter {pk}", stage=stage)


METERS = [
    meter(1, "forward_power", "kW"),
    meter(2, "reflected_power", "W"),
    meter(3, "ht_voltage", "kV"),
    meter(4, "anode_current", "A", FINAL),
    meter(5, "anode_current", "A", FINAL),
    meter(6, "anode_voltage", "kV", DRIVER),
    meter(7, "anode_current", "A", DRIVER),
]
# The demo station's T1 at full power, then an hour with V2 not read; the week before is empty.
READ = {1: 201, 2: 1000, 3: 10.0, 4: 12.5, 5: 12.4, 6: 6.8, 7: 5.29}


def panels(**missing: int) -> dict[str, Panel]:
    hours = {key: np.array([np.nan, np.nan, value, value]) for key, value in READ.items()}
    for place in missing.values():
        hours[place][3] = np.nan
    return {one.key: one for one in panels_of(WeekOfMeters(METERS, hours, 2))}


def values(panel: Panel, number: int = 0) -> list[float]:
    return panel.traces[number].values.tolist()


class TestPanels:
    def test_apparent_efficiency_is_output_over_final_input(self) -> None:
        """(201 - 1) / (10.0 x 24.9) = 80.32 %."""
        assert values(panels()["efficiency"]) == pytest.approx([80.32, 80.32], abs=0.01)

    def test_driver_counted_adds_its_input(self) -> None:
        """200 / (249.0 + 6.8 x 5.29) = 70.18 %."""
        assert values(panels()["efficiency"], 1) == pytest.approx([70.18, 70.18], abs=0.01)

    @pytest.mark.need(43)
    def test_reflected_is_a_ratio_whatever_the_units(self) -> None:
        """1000 W of 201 kW is 0.4975 %."""
        assert values(panels()["reflected"]) == pytest.approx([0.4975, 0.4975], abs=1e-4)

    @pytest.mark.need(40)
    def test_balance_is_the_first_tube_above_the_second(self) -> None:
        """(12.5 - 12.4) / 12.45 = 0.803 points."""
        assert values(panels()["balance"])[0] == pytest.approx(0.803, abs=1e-3)

    @pytest.mark.need(6)
    def test_missing_tube_is_a_hole_and_no_half_sum(self) -> None:
        found = panels(not_read=5)
        for key in ("efficiency", "balance"):
            assert np.isnan(values(found[key])[1])
            assert not np.isnan(values(found[key])[0])

    def test_week_before_stands_behind(self) -> None:
        assert np.isnan(panels()["power"].traces[0].before).all()

    def test_quantity_without_a_meter_has_no_panel(self) -> None:
        assert set(panels()) == {"power", "efficiency", "reflected", "balance"}
