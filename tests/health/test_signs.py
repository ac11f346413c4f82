"""Signs, by part of the plant, from a memory and a day's rounds; sizes worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from health.rules.channels import Channel, MeterFacts, Weather, channels_of
from health.rules.consistency import relation_channels
from health.rules.contexts import Trip, of_sheets, of_tone_test, of_trips, of_warming
from health.rules.memory import Memory, blank_day
from health.rules.sign_groups import groups_of
from health.rules.signs import Sign, signs_at, sizes_now
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


class TestWhatWasReadBefore:
    """Days of one channel, in sigmas; a shift of an empty memory wants 4.25."""

    RAIN = replace(channels_of([METERS[REFLECTED]])[0], weather=Weather.WET)
    IDLE = channels_of([MeterFacts(1, "m1_idle", "idle_current", moves="fast", socket="M1")])[-1]
    WATER = channels_of([MeterFacts(1, "conductivity", "conductivity")])[0]

    def test_rain_is_told_from_where_the_newest_rain_left_it(self) -> None:
        """Three weak wet days, three strong ones, and a dry week: not the mean of all six."""
        weak, strong, dry = [(1.0, 1.0)] * 3, [(6.0, 6.0)] * 3, [(NOTHING, 0.0)] * 7
        assert sized(self.RAIN, [*weak, *strong, *dry]).size == pytest.approx(6.0 / 4.25)

    def test_what_carrier_shows_stands_where_it_last_did(self) -> None:
        """Four days of programme alone do not take the sign away."""
        days = [(6.0, 6.0)] * 3 + [(NOTHING, 0.0)] * 4
        assert sized(self.IDLE, days).size == pytest.approx(6.0 / 4.25)

    def test_two_levels_of_weeks_ago_are_no_sign(self) -> None:
        days = [(6.0, 0.0)] * 2 + [(NOTHING, 0.0)] * 4
        assert np.isnan(sized(self.IDLE, days).size)

    def test_what_has_risen_and_stays_is_still_a_sign(self) -> None:
        """A jump by 8 sigma sixteen days ago: from a fortnight ago on there is no rise any more."""
        days = [(0.0, 0.0)] * 20 + [(8.0, 8.0)] * 14 + [(8.0, 0.0)] * 2
        assert sized(self.WATER, days, 8.0).size == pytest.approx(8.0 / 4.25)

    def test_what_has_come_down_again_is_none(self) -> None:
        """The same jump, and new resin two days ago."""
        days = [(0.0, 0.0)] * 20 + [(8.0, 8.0)] * 10 + [(0.0, 0.0)] * 2
        assert sized(self.WATER, days, 0.0).size == pytest.approx(0.0)

    def test_jump_of_what_climbs_by_itself_is_sudden(self) -> None:
        """From 3 sigma it creeps by a tenth a day, and then stands 6 higher from a day to the
        next: a quarter of where it stands now it had passed by itself long ago."""
        crept = [(3.0 + day / 10, 0.5) for day in range(20)]
        jumped = [(sigmas + 6.0, 6.5) for sigmas, _shift in crept[-5:]]
        assert sized(self.WATER, [*crept, *jumped], 10.9).rising == 0

    def test_newest_that_is_further_than_days_can_be_does_not_hide_when_it_came(self) -> None:
        """Levels count as at most 1.8 of 4.25 sigma, 7.65; the newest readings stand at 30."""
        days = [(0.0, 0.0)] * 15 + [(7.65, 7.65)] * 3
        assert sized(self.WATER, days, 30.0).rising == 0
        slow = [(0.0, 0.0)] * 12 + [(size, size) for size in (1.5, 3.0, 4.5, 6.0, 7.65)]
        assert sized(self.WATER, slow, 30.0).rising > 1


NOTHING = float("nan")


def sized(channel: Channel, days: list[tuple[float, float]], newest: float = NOTHING) -> Sign:
    """One channel after days of (mean of its one level, shift) [sigma], and its newest readings."""
    blank = blank_day(0, 1, 1)
    told = tuple(
        replace(
            blank,
            day=day,
            shift=np.array([shift]),
            total=np.nan_to_num(np.array([mean])),
            count=np.array([0.0 if np.isnan(mean) else 1.0]),
        )
        for day, (mean, shift) in enumerate(days, start=1 - len(days))
    )
    sizes = sizes_now(Memory((channel,), days=told), np.array([newest]))
    return Sign("", "", float(sizes.size[0]), float(sizes.scatter[0]), float(sizes.rising[0]))


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

    @pytest.mark.parametrize(
        ("lacks", "shift", "is_told"),
        [
            ([-3.0, -3.0, -1.0, 0.0, 0.0, 0.0], -0.2, True),
            ([-3.0] * 6, -0.2, False),
            ([-3.0, -3.0], -0.2, True),
            ([-3.0, -3.0], -3.0, False),
            ([0.2, -0.2], -0.2, False),
        ],
        ids=["early alone", "late too", "not late yet", "for days", "nothing"],
    )
    def test_heat_that_lacks_early_in_the_run(self, lacks, shift, is_told) -> None:
        """Hourly rounds of one run, in sigmas; ``shift`` is what the days before lacked."""
        rise = channels_of([MeterFacts(1, "raw_rise", "temperature_rise")])
        day = replace(blank_day(0, 1, 1), shift=np.array([shift]))
        sheets = day_of(1).taken(slice(0, len(lacks)))
        found = set(of_warming(Memory(rise, days=(day,)), sheets, np.array(lacks)[:, None]))
        assert found == ({Context.WHILE_WARMING} if is_told else set())

    def test_one_aerial_alone_says_nothing_of_the_others(self) -> None:
        assert of_sheets(MEMORY, day_of(1, {REFLECTED: [3.0] * HOURS})) == set()
