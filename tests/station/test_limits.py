"""Which limits hold at an operating point. Figures: demo station table, T1 and its relations."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from station.limits import Band, LimitBook, Place
from station.models import Meter, Transmitter
from tests.make import COMMISSIONED_AT, make_instrument, make_limit, make_meter, make_normal

NOW = datetime(2026, 3, 2, 6, tzinfo=UTC)
CHANGED_AT = datetime(2026, 3, 1, tzinfo=UTC)

pytestmark = pytest.mark.django_db


def place(**over: Any) -> Place:
    """On air at full power on 6105 kHz with programme."""
    values = {"state": "on_air", "frequency_khz": 6105.0, "power_kw": 200.0}
    return Place(**{**values, "set_by": "tap", "modulation": "on", **over})


def band(meter: Meter, at: datetime = NOW, **over: Any) -> Band:
    return LimitBook(meter.transmitter).band(meter, place(**over), at)


class TestMostSpecificWins:
    """In the order state, wave, power, modulation."""

    CONDITIONS = (
        {"state": "on_air"},
        {"frequency_khz": 6105.0},
        {"power_kw": 200.0},
        {"modulation": "on"},
    )

    def test_a_general_limit_holds_everywhere(self, meter: Meter) -> None:
        make_limit(meter)
        assert band(meter).high_alarm == 14.0

    @pytest.mark.parametrize("number", range(4))
    def test_an_earlier_column_beats_all_later_ones(self, meter: Meter, number: int) -> None:
        later = {name: one for more in self.CONDITIONS[number + 1 :] for name, one in more.items()}
        make_limit(meter, **later, high_alarm=15.0)
        make_limit(meter, **self.CONDITIONS[number], high_alarm=16.0)
        assert band(meter).high_alarm == 16.0

    def test_a_limit_of_another_wave_does_not_hold(self, meter: Meter) -> None:
        make_limit(meter, frequency_khz=9690.0)
        assert band(meter) == Band()

    @pytest.mark.case("C27")
    def test_a_wave_without_its_own_limit_has_the_general_one(self, meter: Meter) -> None:
        make_limit(meter, frequency_khz=9690.0, high_alarm=15.0)
        make_limit(meter, high_alarm=17.0)
        found = band(meter)
        assert (found.high_alarm, found.normal) == (17.0, None)


class TestVersions:
    def test_the_version_in_force_then_holds(self, meter: Meter) -> None:
        make_limit(meter, high_alarm=14.0)
        make_limit(meter, high_alarm=15.0, valid_from=CHANGED_AT)
        before = CHANGED_AT - timedelta(seconds=1)
        assert [band(meter, at).high_alarm for at in (before, CHANGED_AT)] == [14.0, 15.0]

    def test_before_the_first_version_there_is_none(self, meter: Meter) -> None:
        make_limit(meter)
        assert band(meter, COMMISSIONED_AT - timedelta(seconds=1)) == Band()

    def test_a_withdrawn_limit_leaves_the_wider_one(self, meter: Meter) -> None:
        make_limit(meter, high_alarm=17.0)
        make_limit(meter, power_kw=200.0, high_alarm=14.0)
        nothing = dict.fromkeys(("low_alarm", "low_warning", "high_warning", "high_alarm"))
        make_limit(meter, power_kw=200.0, valid_from=CHANGED_AT, **nothing)
        assert band(meter).high_alarm == 17.0


class TestLevel:
    @pytest.mark.parametrize(
        ("value", "level"),
        [
            (10.8, "alarm-low"),
            (10.81, "warning-low"),
            (11.6, "warning-low"),
            (11.61, ""),
            (13.19, ""),
            (13.2, "warning-high"),
            (13.99, "warning-high"),
            (14.0, "alarm-high"),
        ],
    )
    @pytest.mark.need(8)
    def test_a_limit_is_inclusive(self, meter: Meter, value: float, level: str) -> None:
        make_limit(meter)
        assert band(meter).level(value) == level

    @pytest.mark.case("C22")
    @pytest.mark.parametrize(("bound", "level"), [(">", "alarm-high"), ("<", "alarm-low")])
    def test_off_scale_is_beyond(self, meter: Meter, bound: str, level: str) -> None:
        make_limit(meter)
        assert band(meter).level(12.4, bound) == level

    @pytest.mark.case("C27")
    def test_without_limits_nothing_is_said(self, meter: Meter) -> None:
        assert band(meter).level(1e9) == ""

    def test_the_deadband_is_a_step_unless_given(self, meter: Meter) -> None:
        make_limit(meter)
        assert band(meter).deadband == 0.2
        make_limit(meter, valid_from=CHANGED_AT, deadband=0.5)
        assert band(meter).deadband == 0.5


@pytest.mark.need(42)
class TestPowerByTap:
    """k = sqrt(P / P_full): 0.6325 at 80 kW, 0.7746 at 120 kW of 200."""

    def test_a_current_goes_with_k(self, meter: Meter) -> None:
        make_limit(meter)
        found = band(meter, power_kw=80.0)
        assert found.high_alarm == pytest.approx(14.0 * 0.632456, abs=1e-4)

    def test_a_power_goes_with_k_squared(self, transmitter: Transmitter) -> None:
        """5.6 kW reflected at 200 kW is 2.8 per cent; of 80 kW that is 2.24 kW."""
        meter = make_meter(transmitter, "reflected_power", quantity="reflected_power", unit="kW")
        make_limit(meter, low_alarm=None, low_warning=None, high_warning=5.6, high_alarm=13.5)
        assert band(meter, power_kw=80.0).high_warning == pytest.approx(2.24)

    def test_normal_values_give_the_ratio_where_they_are_known(self, meter: Meter) -> None:
        """7.8 A of 12.4 A at the 80 kW tap: the alarm of 14.0 A becomes 8.81 A."""
        make_limit(meter)
        make_normal(meter, 7.8, power_kw=80.0)
        make_normal(meter, 12.4, power_kw=200.0)
        assert band(meter, power_kw=80.0).high_alarm == pytest.approx(8.8065, abs=1e-4)

    def test_an_explicit_limit_beats_a_scaled_one(self, meter: Meter) -> None:
        make_limit(meter)
        make_limit(meter, power_kw=80.0, high_alarm=9.0)
        assert band(meter, power_kw=80.0).high_alarm == 9.0

    @pytest.mark.parametrize(
        ("quantity", "normals"),
        [("filament_voltage", (12.0, 12.0)), ("water_level", (120.0, 120.0))]
        + [("water_temperature", (79.0, 85.0)), ("air_temperature", (24.0, 27.0))],
    )
    def test_what_does_not_go_with_power_keeps_its_limits(
        self, transmitter: Transmitter, quantity: str, normals: tuple[float, float]
    ) -> None:
        """A limit in degrees stays, even where the normal temperature falls with the power."""
        meter = make_meter(transmitter, quantity, quantity=quantity)
        make_limit(meter, high_alarm=97.0)
        make_normal(meter, normals[0], power_kw=80.0)
        make_normal(meter, normals[1], power_kw=200.0)
        assert band(meter, power_kw=80.0).high_alarm == 97.0

    def test_without_a_law_or_a_normal_value_nothing_is_judged(
        self, transmitter: Transmitter
    ) -> None:
        """Steam has a fixed filament part: no power law holds."""
        meter = make_meter(transmitter, "steam_rate", quantity="steam_rate", unit="kg/h")
        make_limit(meter)
        assert band(meter, power_kw=80.0).high_alarm is None


@pytest.mark.need(42)
class TestPowerByCoupling:
    """HT stays, the anode current falls with the power, and no law holds for the grid."""

    @pytest.mark.parametrize(
        ("quantity", "high_alarm"),
        [("ht_voltage", 14.0), ("anode_current", 5.6), ("grid_current", None)],
    )
    def test_another_law_holds(
        self, transmitter: Transmitter, quantity: str, high_alarm: float | None
    ) -> None:
        """80 of 200 kW: 14.0 x 0.4 = 5.6 for the anode current at constant HT."""
        meter = make_meter(transmitter, quantity, quantity=quantity)
        make_limit(meter)
        found = band(meter, power_kw=80.0, set_by="coupling").high_alarm
        assert found == (None if high_alarm is None else pytest.approx(high_alarm))

    def test_normal_values_of_the_taps_are_not_used(self, meter: Meter) -> None:
        """12.4 A x 0.4 = 4.96 A, not the 7.8 A of the 80 kW tap."""
        make_limit(meter)
        make_normal(meter, 7.8, power_kw=80.0)
        make_normal(meter, 12.4, power_kw=200.0)
        assert band(meter, power_kw=80.0, set_by="coupling").normal == pytest.approx(4.96)

    def test_at_full_power_the_taps_normal_value_holds(self, meter: Meter) -> None:
        make_normal(meter, 12.4, power_kw=200.0)
        assert band(meter, set_by="coupling").normal == 12.4


@pytest.mark.need(4)
class TestModulation:
    @pytest.fixture
    def fast(self, transmitter: Transmitter) -> Meter:
        return self.moved(transmitter, "fast")

    @staticmethod
    def moved(transmitter: Transmitter, moves: str) -> Meter:
        meter = make_meter(transmitter, f"ht_{moves}", quantity="ht_current", moves=moves)
        make_limit(meter, modulation="carrier", high_alarm=30.5)
        make_limit(meter, modulation="on", high_alarm=41.0)
        return meter

    @pytest.mark.parametrize(
        ("moves", "modulation", "high_alarm"),
        [
            ("fast", "on", 41.0),
            ("fast", "paused", 30.5),
            ("fast", "carrier", 30.5),
            ("slow", "on", 41.0),
            ("slow", "paused", 41.0),
            ("slow", "carrier", 30.5),
        ],
    )
    def test_a_pause_is_carrier_for_what_follows_at_once(
        self, transmitter: Transmitter, moves: str, modulation: str, high_alarm: float
    ) -> None:
        meter = self.moved(transmitter, moves)
        assert band(meter, modulation=modulation).high_alarm == high_alarm


@pytest.mark.need(15)
class TestState:
    @pytest.mark.parametrize(
        ("quantity", "state", "is_judged"),
        [
            ("anode_current", "standby", False),
            ("anode_current", "test_load", True),
            ("forward_power", "test_load", False),
            ("forward_power", "reduced", True),
            ("filament_voltage", "standby", True),
            ("filament_voltage", "black_heat", False),
            ("water_level", "standby", True),
            ("water_level", "off", True),
        ],
    )
    def test_only_what_is_live_is_judged(
        self, transmitter: Transmitter, quantity: str, state: str, is_judged: bool
    ) -> None:
        meter = make_meter(transmitter, quantity, quantity=quantity)
        make_limit(meter)
        assert (band(meter, state=state).high_alarm is not None) == is_judged

    def test_a_state_that_nobody_wrote_suppresses_nothing(self, meter: Meter) -> None:
        make_limit(meter)
        assert band(meter, state="").high_alarm == 14.0


class TestFromNormal:
    @pytest.fixture
    def dial(self, transmitter: Transmitter) -> Meter:
        meter = make_meter(transmitter, "anode_tune_dial", quantity="dial", unit="div")
        ends = {"low_alarm": None, "low_warning": -15, "high_warning": 15, "high_alarm": None}
        make_limit(meter, is_from_normal=True, **ends)
        make_normal(meter, 490.0, frequency_khz=6105.0)
        return meter

    def test_the_limits_lie_around_the_waves_own(self, dial: Meter) -> None:
        found = band(dial)
        assert (found.low_warning, found.normal, found.high_warning) == (475.0, 490.0, 505.0)

    def test_the_distance_does_not_go_with_power(self, dial: Meter) -> None:
        assert band(dial, power_kw=80.0).high_warning == 505.0

    @pytest.mark.case("C27")
    def test_a_wave_without_a_normal_value_is_not_judged(self, dial: Meter) -> None:
        assert band(dial, frequency_khz=7265.0) == Band()


class TestInstrument:
    def test_the_instrument_then_is_given(self, meter: Meter) -> None:
        meter.instruments.update(valid_until=CHANGED_AT)
        make_instrument(meter, full_scale=50.0, valid_from=CHANGED_AT)
        book = LimitBook(meter.transmitter)
        before = CHANGED_AT - timedelta(seconds=1)
        scales = [book.instrument(meter, at).full_scale for at in (before, CHANGED_AT)]
        assert scales == [20.0, 50.0]

    def test_before_the_first_instrument_there_is_none(self, meter: Meter) -> None:
        before = COMMISSIONED_AT - timedelta(seconds=1)
        assert LimitBook(meter.transmitter).instrument(meter, before) is None

    @pytest.mark.parametrize(("value", "scale"), [(1.3, 5.0), (5.0, 5.0), (5.6, 20.0)])
    def test_a_range_switch_gives_the_range_in_use(
        self, meter: Meter, value: float, scale: float
    ) -> None:
        meter.instruments.update(valid_until=CHANGED_AT)
        make_instrument(meter, lower_full_scale=5.0, valid_from=CHANGED_AT)
        book = LimitBook(meter.transmitter)
        assert book.instrument(meter, CHANGED_AT).range_for(value) == scale


@pytest.mark.need(57)
class TestBottomOfScale:
    """0 to 20 A of class 1.5 cannot tell 0.3 A: worked by hand from demo station's ammeter."""

    @pytest.fixture
    def small(self, meter: Meter) -> Meter:
        """Normally 2.0 A, at a tenth of its scale; its limits in amps."""
        make_normal(meter, value=2.0)
        meter.instruments.update(class_percent=1.5)
        return meter

    def test_what_the_meter_cannot_tell_is_no_limit(self, small: Meter) -> None:
        make_limit(small, low_alarm=1.8, low_warning=1.9, high_warning=2.2, high_alarm=2.25)
        found = band(small)
        assert (found.low_alarm, found.low_warning) == (None, None)
        assert (found.high_warning, found.high_alarm) == (4.0, 4.0)

    def test_what_it_can_tell_holds(self, small: Meter) -> None:
        make_limit(small, low_alarm=1.0, low_warning=1.6, high_warning=2.4, high_alarm=3.0)
        found = band(small)
        assert (found.low_alarm, found.high_alarm) == (1.0, 3.0)

    def test_a_tight_limit_higher_up_the_scale_holds(self, meter: Meter) -> None:
        """That one the setter is warned about, and the cell is marked by it."""
        make_normal(meter, value=12.4)
        meter.instruments.update(class_percent=1.5)
        make_limit(meter, high_alarm=12.5)
        assert band(meter).high_alarm == 12.5

    def test_no_flag_comes_from_a_limit_within_the_meters_error(self, meter: Meter) -> None:
        """1.5 % of 20 A is 0.3 A: a flag wants 12.7 A, and the other side stays at 10.8 A."""
        make_normal(meter, value=12.4)
        meter.instruments.update(class_percent=1.5)
        make_limit(meter, low_alarm=10.8, high_alarm=12.5)
        found = LimitBook(meter.transmitter).flag_band(meter, place(), NOW)
        assert (found.low_alarm, found.high_alarm) == (10.8, pytest.approx(12.7))
