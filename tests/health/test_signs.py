"""Signs, by part of the plant, from a memory and a day's rounds; sizes worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from health.rules.channels import MeterFacts, channels_of
from health.rules.consistency import relation_channels
from health.rules.contexts import Trip, of_sheets, of_tone_test, of_trips
from health.rules.memory import blank_day
from health.rules.sign_groups import groups_of
from health.rules.signs import Sign, signs_at
from health.rules.symptom_table import Context
from health.rules.symptoms import ranked
from tests.health.test_days import HOURS, MEMORY, METERS, REFLECTED, V1, day_of


def signs(sheets, memory=MEMORY) -> dict[tuple[str, str], float]:
    return {(one.name, one.part): one.size for one in signs_at(memory, sheets, METERS)}


class TestSizes:
    """Every baseline has a total sigma of 0.1; a departure of an empty memory wants 6.3."""

    def test_readings_where_they_always_are_are_no_sign(self) -> None:
        assert max(abs(size) for size in signs(day_of(1)).values()) == pytest.approx(0, abs=1e-6)

    def test_one_tube_is_told_from_both(self) -> None:
        """V1 0.63 A low is 6.3 sigma of its own; the mean of both tubes is half of that."""
        found = signs(day_of(1, {V1: [12.4 - 0.63] * HOURS}))
        assert found["anode", ""] == pytest.approx(-0.5)
        assert found["anode apart", "V1"] < -1
        assert found["anode apart", "V2"] == -found["anode apart", "V1"]

    def test_newest_three_readings_speak(self) -> None:
        found = signs(day_of(1, {V1: [12.4] * (HOURS - 3) + [13.03] * 3}))
        assert found["anode", ""] == pytest.approx(0.5)

    def test_absurd_value_still_has_a_symptom_or_none(self) -> None:
        """A million amperes lie no further than 60 sigma: nothing overflows."""
        signs = signs_at(MEMORY, day_of(1, {V1: [1e6] * HOURS}), METERS)
        assert max(abs(one.size) for one in signs) <= 60 / 6.3 + 1e-9
        assert ranked(signs)

    def test_what_nobody_read_is_no_sign(self) -> None:
        found = signs(day_of(1, {REFLECTED: [np.nan] * HOURS}))
        assert ("reflection dry", "") not in found

    def test_what_stood_for_long_came_long_ago(self) -> None:
        """A shift of V1 that stood for a fortnight at 6 sigma, where a shift wants 4.25."""
        found = self.anode([6.0] * 15, 13.0)
        assert found.size == pytest.approx(6.0 / 4.25 / 2, rel=0.01)
        assert found.rising == 12

    def test_what_was_not_there_the_day_before_came_suddenly(self) -> None:
        assert self.anode([0.0] * 15, 13.0).rising == 0

    def test_what_grows_from_day_to_day_rises_for_days(self) -> None:
        """One sigma a day to 6: 2, 3 and 4 lie between a quarter and three quarters of it."""
        assert self.anode([0.0] * 10 + [1.0, 2.0, 3.0, 4.0, 5.0], 13.0).rising == 3

    def anode(self, sigmas: list[float], amps_now: float) -> Sign:
        """The final's anode current after days of V1 at so many sigmas."""
        blank = blank_day(0, 1, len(MEMORY.channels))
        is_v1 = np.array([one.key == "v1_anode_current" for one in MEMORY.channels])
        days = tuple(
            replace(blank, day=day, shift=size * is_v1, total=size * is_v1, count=1.0 * is_v1)
            for day, size in enumerate(sigmas, start=1 - len(sigmas))
        )
        memory = replace(MEMORY, days=days)
        signs = signs_at(memory, day_of(1, {V1: [amps_now] * HOURS}), METERS)
        return {one.name: one for one in signs}["anode"]


class TestGroups:
    def names(self, facts: MeterFacts, *others: MeterFacts) -> set[tuple[str, str]]:
        meters = {one.meter_id: one for one in (facts, *others)}
        channels = (*channels_of(meters.values()), *relation_channels(list(meters.values())))
        own = [one for one in channels if one.meter_id == facts.meter_id]
        return {group for one in own for group, _sense in groups_of(one, meters)}

    def test_drivers_current_is_not_the_finals(self) -> None:
        assert self.names(MeterFacts(1, "d", "anode_current", stage="driver")) == {("driver", "")}

    def test_loop_is_told_by_how_its_codes_begin(self) -> None:
        rise = MeterFacts(1, "raw_rise", "temperature_rise")
        flow = MeterFacts(2, "raw_flow", "water_flow")
        assert self.names(rise, flow) == {("rise", "raw"), ("heat", "raw")}

    def test_rise_without_a_flow_beside_it_is_air(self) -> None:
        assert self.names(MeterFacts(1, "air_rise", "temperature_rise")) == {("air", "")}

    def test_what_the_weather_moves_is_none(self) -> None:
        assert self.names(MeterFacts(1, "hall_temperature", "air_temperature")) == set()


class TestContexts:
    @pytest.mark.parametrize(
        ("trips", "waves", "found"),
        [
            ([Trip(6105, False, True)] * 2, 3, {Context.TRIPS_ON_ONE_WAVE}),
            ([Trip(6105, False, True)] * 2, 1, set()),
            ([Trip(6105, True, True), Trip(9690, True, True)], 2, {Context.TRIPS_WHEN_DAMP}),
            ([Trip(6105, False, False)] * 2, 3, {Context.TRIPS_AT_HT}),
            ([Trip(6105, False, True)], 3, set()),
            (
                [Trip(6105, False, True)] * 2 + [Trip(9690, False, True)],
                3,
                {Context.TRIPS_OFTEN},
            ),
        ],
        ids=["one wave", "only wave", "damp", "at the HT", "one alone", "often"],
    )
    def test_what_the_trips_of_a_week_have_in_common(self, trips, waves, found) -> None:
        assert set(of_trips(trips, waves)) == found

    def test_tone_test_tells_carrier_shift_and_hum(self) -> None:
        assert set(of_tone_test(-6.0, 7.0)) == {Context.CARRIER_SHIFT, Context.HUM}
        assert set(of_tone_test(float("nan"), 1.0)) == set()

    def test_one_aerial_alone_says_nothing_of_the_others(self) -> None:
        assert of_sheets(MEMORY, day_of(1, {REFLECTED: [3.0] * HOURS})) == set()
