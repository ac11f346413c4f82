"""The hall: how each transmitter stands, what its last round says, what is due."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.hall import TransmitterNow, build_hall
from health.models import Judging
from logbook.services.corrections import void_entry
from station.models import Meter, Person, Stage, Station, Transmitter
from tests.make import (
    SLOT,
    make_limit,
    make_meter,
    make_permit,
    make_round,
    make_state,
    make_transmitter,
)
from tests.people import signed_in

NOW = SLOT + timedelta(minutes=40)
FULL = {
    "ht_voltage": "11.0",
    "v1_anode_current": "14.0",
    "v2_anode_current": "14.0",
    "forward_power": "250",
    "reflected_power": "10",
}

pytestmark = pytest.mark.usefixtures("clock")


def furnish(transmitter: Transmitter, includes: str = "anode alone") -> None:
    """The meters that the figures need: two tubes in the final stage."""
    final = Stage.objects.create(
        station=transmitter.station, transmitter=transmitter, code="final", name="final"
    )
    power = {"unit": "kW", "decimals": 0, "panel_group": "Feeder", "full_scale": 300, "step": 1}
    make_meter(transmitter, "ht_voltage", quantity="ht_voltage", unit="kV")
    for tube in ("v1", "v2"):
        code = f"{tube}_anode_current"
        make_meter(transmitter, code, stage=final, includes=includes)
        code = f"{tube}_grid_current"
        make_meter(transmitter, code, quantity="grid_current", stage=final, decimals=2)
    make_meter(transmitter, "forward_power", quantity="forward_power", **power)
    make_meter(transmitter, "reflected_power", quantity="reflected_power", **power)


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter) -> Transmitter:
    furnish(transmitter)
    make_state(shift, transmitter)
    return transmitter


def now(station: Station, code: str = "T1") -> TransmitterNow:
    return next(
        one for one in build_hall(station, NOW).transmitters if one.transmitter.code == code
    )


def figures(station: Station) -> dict[str, str]:
    return {one.label: one.text for one in now(station).figures}


def page(person: Person) -> str:
    return " ".join(signed_in(person).get("/hall").content.decode().split())


class TestFigures:
    """Hand-worked: 250 kW forward, 10 kW reflected, 11.0 kV, 2 x 14.0 A.

    |G| = sqrt(10 / 250) = 0.2, so SWR = 1.2 / 0.8 = 1.50.
    Efficiency = (250 - 10) / (11.0 x 28.0) = 240 / 308 = 77.9 %.
    """

    @pytest.mark.need(41, 43)
    def test_last_round_gives_ratio_and_efficiency(self, plant: Transmitter, shift: Person) -> None:
        make_round(shift, plant, FULL)
        assert figures(plant.station) == {
            "Forward power": "250",
            "Reflected power": "10",
            "SWR": "1.50",
            "Apparent efficiency": "77.9",
        }

    @pytest.mark.need(41)
    def test_grid_current_is_taken_out_of_a_cathode_meter(
        self, shift: Person, transmitter: Transmitter
    ) -> None:
        """240 / (11.0 x (28.0 - 2 x 1.0)) = 240 / 286 = 83.9 %."""
        furnish(transmitter, includes="anode and grid, in the cathode lead")
        grids = {"v1_grid_current": "1.0", "v2_grid_current": "1.0"}
        make_round(shift, transmitter, {**FULL, **grids})
        assert figures(transmitter.station)["Apparent efficiency"] == "83.9"

    def test_cathode_meter_without_its_grid_current_gives_no_efficiency(
        self, shift: Person, transmitter: Transmitter
    ) -> None:
        furnish(transmitter, includes="anode and grid, in the cathode lead")
        make_round(shift, transmitter, {**FULL, "v1_grid_current": "1.0"})
        assert figures(transmitter.station)["Apparent efficiency"] == ""

    def test_driver_current_is_not_the_final_stages(
        self, plant: Transmitter, shift: Person
    ) -> None:
        make_meter(plant, "driver_anode_current")
        make_round(shift, plant, {**FULL, "driver_anode_current": "5.0"})
        assert figures(plant.station)["Apparent efficiency"] == "77.9"

    def test_watts_are_told_from_kilowatts(self, shift: Person, transmitter: Transmitter) -> None:
        """0.25 kW of 250 kW: |G| = sqrt(0.001) = 0.0316, SWR = 1.0316 / 0.9684 = 1.07."""
        furnish(transmitter)
        transmitter.meters.filter(code="reflected_power").update(unit="W")
        make_round(shift, transmitter, {**FULL, "reflected_power": "250"})
        assert figures(transmitter.station)["SWR"] == "1.07"

    @pytest.mark.need(6)
    @pytest.mark.parametrize("text", ["", "/", "l0"])
    def test_missing_reading_is_no_reading_and_never_zero(
        self, plant: Transmitter, shift: Person, text: str
    ) -> None:
        values = {**FULL, "reflected_power": text}
        make_round(shift, plant, {code: typed for code, typed in values.items() if typed})
        found = figures(plant.station)
        assert [found[name] for name in ("Reflected power", "SWR", "Apparent efficiency")] == [
            "",
            "",
            "",
        ]
        assert page(shift).count("no reading") == 3

    @pytest.mark.case("C22")
    def test_off_scale_shows_its_bound_and_gives_no_ratio(
        self, plant: Transmitter, shift: Person
    ) -> None:
        make_round(shift, plant, {**FULL, "forward_power": ">300"})
        found = figures(plant.station)
        assert (found["Forward power"], found["SWR"]) == (">300", "")

    def test_one_tube_without_a_reading_gives_no_efficiency(
        self, plant: Transmitter, shift: Person
    ) -> None:
        make_round(shift, plant, {**FULL, "v2_anode_current": "*"})
        assert figures(plant.station)["Apparent efficiency"] == ""

    def test_struck_round_gives_nothing(self, plant: Transmitter, shift: Person) -> None:
        row = make_round(shift, plant, FULL)
        void_entry(row.entry, reason="slip", by=shift, at=NOW)
        assert now(plant.station).last_round is None

    def test_round_read_before_a_change_is_said_so(self, plant: Transmitter, shift: Person) -> None:
        make_round(shift, plant, FULL)
        assert not now(plant.station).is_before_change
        make_state(shift, plant, state="standby", observed_at=SLOT + timedelta(minutes=30))
        assert now(plant.station).is_before_change


class TestDue:
    @pytest.mark.need(5)
    def test_off_set_has_no_round_due(self, plant: Transmitter, shift: Person) -> None:
        make_state(shift, plant, state="off", observed_at=SLOT - timedelta(minutes=30))
        assert now(plant.station).due.slot is None
        assert "No round is asked for in this state" in page(shift)

    @pytest.mark.need(7)
    def test_late_and_missed_are_said(self, plant: Transmitter, shift: Person) -> None:
        shown = page(shift)
        assert now(plant.station).due.level == "late"
        assert "1 round in the last 24 h" in shown

    def test_saved_round_leaves_the_next_slot(self, plant: Transmitter, shift: Person) -> None:
        make_round(shift, plant, FULL)
        slot = now(plant.station).due.slot
        assert slot is not None
        assert slot.at == SLOT + timedelta(hours=1)


class TestFlags:
    def test_standing_flags_come_most_pressing_first(
        self, plant: Transmitter, shift: Person
    ) -> None:
        for code, priority in (("v1_anode_current", "low"), ("v2_anode_current", "high")):
            make_limit(Meter.objects.get(code=code), priority=priority)
        make_round(shift, plant, FULL)
        found = now(plant.station).flags
        assert [flag.words.split(" anode")[0] for flag in found] == ["v2", "v1"]
        assert found[0].episode.since == SLOT + timedelta(minutes=4)

    def test_flag_that_returned_is_not_there(self, plant: Transmitter, shift: Person) -> None:
        make_limit(Meter.objects.get(code="v1_anode_current"))
        earlier = SLOT - timedelta(hours=1)
        make_round(shift, plant, FULL, slot=earlier)
        make_round(shift, plant, {**FULL, "v1_anode_current": "12.4"})
        assert now(plant.station).flags == ()

    def test_flags_past_the_first_five_are_counted(self, plant: Transmitter, shift: Person) -> None:
        for number in range(7):
            make_limit(make_meter(plant, f"m{number}"))
        make_round(shift, plant, {f"m{number}": "14.2" for number in range(7)})
        one = now(plant.station)
        assert (len(one.flags_shown), one.flags_beside) == (5, 2)
        assert "and 2 more" in page(shift)

    def test_entries_not_judged_are_counted(self, plant: Transmitter, shift: Person) -> None:
        make_round(shift, plant, FULL)
        assert now(plant.station).pending == 0
        Judging.objects.update(judged_no=0)
        assert now(plant.station).pending == 2
        assert "2 entries: flags may be missing here" in page(shift)


class TestPage:
    def test_empty_register_says_what_to_do(self, shift: Person) -> None:
        assert "The register has no transmitter yet" in page(shift)

    def test_transmitter_without_a_state_says_what_to_do(
        self, transmitter: Transmitter, shift: Person
    ) -> None:
        assert "No state was written yet" in page(shift)

    def test_state_wave_antenna_and_power_are_shown(
        self, plant: Transmitter, viewer: Person
    ) -> None:
        shown = page(viewer)
        for words in ("on air, full power", "6105 kHz, antenna A1", "200 kW, set by HT tap"):
            assert words in shown

    def test_page_says_that_the_log_does_not_protect(self, shift: Person) -> None:
        assert "This log does not protect; trips do." in page(shift)

    def test_viewer_is_offered_nothing_to_write(
        self, plant: Transmitter, viewer: Person, shift: Person
    ) -> None:
        assert "/log/T1/round" in page(shift)
        assert "/log/T1/round" not in page(viewer)

    @pytest.mark.need(76)
    @pytest.mark.parametrize(
        ("who", "status"),
        [("shift", 200), ("engineer", 200), ("planner", 200), ("viewer", 200), ("outsider", 403)]
        + [("retired", 403)],
    )
    def test_page_is_for_those_who_read(
        self, request: Any, plant: Transmitter, who: str, status: int
    ) -> None:
        assert signed_in(request.getfixturevalue(who)).get("/hall").status_code == status

    def test_other_station_sees_nothing(self, plant: Transmitter, stranger: Person) -> None:
        assert "200 kW" not in page(stranger)


class TestQueries:
    def test_twelve_transmitters_take_as_many_queries_as_three(
        self, station: Station, shift: Person
    ) -> None:
        def furnish_up_to(last: int) -> None:
            for number in range(station.entries.values("transmitter").distinct().count(), last):
                one = make_transmitter(station=station, code=f"T{number}")
                furnish(one)
                make_state(shift, one)
                make_round(shift, one, FULL)

        def count() -> int:
            with CaptureQueriesContext(connection) as captured:
                build_hall(station, NOW)
            return len(captured)

        furnish_up_to(3)
        few = count()
        furnish_up_to(12)
        assert count() == few


@pytest.mark.need(72)
@pytest.mark.need(14)
def test_ht_with_a_permit_out_is_never_refused_and_stands_on_top(
    transmitter: Transmitter, shift: Person
) -> None:
    make_permit(shift, transmitter)
    assert "HT on with a permit out" not in page(shift)
    make_state(shift, transmitter, observed_at=NOW, state="on_air")
    assert "HT on with a permit out" in page(shift)
