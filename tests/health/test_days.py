"""Days of readings judged by what is expected: departures, shifts, one cause."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from health.rules.absolute import differences
from health.rules.baselines import Baseline
from health.rules.channels import Channel, Heeds, MeterFacts, channels_of
from health.rules.consistency import relation_channels, relation_values
from health.rules.days import judge_day, judge_shifts
from health.rules.events import Begun, Event
from health.rules.learning import with_day
from health.rules.memory import SHIFT_DAYS, Memory, begun_anew, blank_day
from health.rules.sheets import DAY_MIN, Rounds, Sheets, sheets_of

V1, V2, TOTAL, FORWARD, REFLECTED = 1, 2, 3, 4, 5
TRUE = {V1: 12.4, V2: 12.4, TOTAL: 27.4, FORWARD: 201.0, REFLECTED: 1.0}
HOURS = 6


def facts(key: int, code: str, quantity: str, **over: object) -> MeterFacts:
    plain = {"tap_exponent": 1, "step": 0.02, "upper_step": 0.02, "usual": TRUE[key]}
    return MeterFacts(key, code, quantity, **{**plain, **over})


FINAL = {"stage": "final"}
METERS = {
    one.meter_id: one
    for one in (
        facts(V1, "v1_anode_current", "anode_current", socket="V1", **FINAL),
        facts(V2, "v2_anode_current", "anode_current", socket="V2", **FINAL),
        facts(TOTAL, "ht_current", "ht_current", includes="final and modulator anodes"),
        facts(FORWARD, "forward_power", "forward_power", tap_exponent=2),
        facts(REFLECTED, "reflected_power", "reflected_power", tap_exponent=2),
    )
}
CHANNELS = (*channels_of(METERS.values()), *relation_channels(list(METERS.values())))


def day_of(number: int, by: dict[int, Sequence[float]] | None = None, **over: object) -> Sheets:
    """A day of hourly rounds on one wave: every meter at its true value but for ``by``."""
    columns = {key: (by or {}).get(key, [value] * HOURS) for key, value in TRUE.items()}
    minute = number * DAY_MIN + 300 + 60 * np.arange(HOURS)
    since = pd.to_datetime([(number * DAY_MIN + 100) * 60] * HOURS, unit="s", utc=True)
    points = pd.DataFrame(
        {
            "frequency_khz": 6105.0,
            "antenna": "A1",
            "power_kw": 200.0,
            "set_by": "tap",
            "run": number + 1,
            "since": since,
        }
    )
    plain = {
        "minute": minute,
        "no": 100 * number + np.arange(HOURS),
        "values": pd.DataFrame(columns, dtype=float),
        "is_confirmed": pd.DataFrame(False, index=range(HOURS), columns=list(TRUE)),
        "modulation": np.full(HOURS, "carrier", dtype=object),
        "is_wet": np.zeros(HOURS, dtype=bool),
        "points": points,
        "is_on_air": np.ones(HOURS, dtype=bool),
        "rf_ends": np.array([], dtype=np.int64),
    }
    return sheets_of(Rounds(**{**plain, **over}), METERS, CHANNELS)


def place_of(channel: Channel) -> str:
    return {Heeds.NOTHING: "", Heeds.POWER: "200 tap"}.get(channel.heeds, "6105 A1 200 tap")


def baseline(channel: Channel) -> Baseline:
    """A centre of what the true values make of it, with a total sigma of 0.1."""
    own = [TRUE[key] for key in channel.meter_ids]
    centre = {"pair": 0.0, "ht-sum": 2.6, "reflection": 100 / 201.0}.get(channel.relation, own[0])
    return Baseline(centre, 0.08, 0.06, runs=20, readings=120, day=0, is_last=True)


MEMORY = Memory(CHANNELS, {(one.key, place_of(one)): baseline(one) for one in CHANNELS})


def rules_of(sheets: Sheets, memory: Memory = MEMORY) -> set[tuple[str, int]]:
    return {(one.rule, one.meter_id) for one in judge_day(memory, sheets, METERS, []).episodes}


class TestTrippedRounds:
    """Two rounds that found the set tripped: no number of the power, and no rise of the water."""

    RISE = Channel("loop_rise", (6,), Heeds.POWER, 0.1, quantity="temperature_rise")
    CURRENT = next(one for one in CHANNELS if one.key == "v1_anode_current")

    def judged(self, anode_current_a: float) -> set[str]:
        known = {
            (self.RISE.key, place_of(self.RISE)): replace(baseline(self.CURRENT), centre=5.0),
            (self.CURRENT.key, place_of(self.CURRENT)): baseline(self.CURRENT),
        }
        values = np.array([[TRUE[V1], 5.0]] * HOURS)
        values[2:4] = anode_current_a, 0.0
        sheets = replace(
            day_of(1),
            values=values,
            is_confirmed=np.zeros(values.shape, dtype=bool),
            says=np.ones(values.shape, dtype=bool),
        )
        judged = judge_day(Memory((self.CURRENT, self.RISE), known), sheets, METERS, [])
        return {one.evidence["channel"] for one in judged.episodes}

    def test_they_say_nothing_of_the_heat(self) -> None:
        assert self.judged(np.nan) == set()

    def test_heat_that_is_missing_beside_power_is_told(self) -> None:
        assert self.judged(TRUE[V1]) == {"loop_rise"}


class TestDepartures:
    """One sigma is 0.1, and six of them stand where fewer than three runs are known."""

    def test_usual_day_raises_nothing(self) -> None:
        assert rules_of(day_of(1)) == set()

    def test_two_far_readings_in_a_row_stand_at_the_second(self) -> None:
        sheets = day_of(1, {FORWARD: [201, 201, 202, 202, 202, 202]})
        (episode,) = judge_day(MEMORY, sheets, METERS, []).episodes
        assert (episode.rule, episode.meter_id) == ("departure", FORWARD)
        assert episode.since == sheets.minute[3]
        assert episode.evidence["centre"] == pytest.approx(201.0)

    def test_one_is_counted_from_where_the_channel_usually_stands(self) -> None:
        """Seven sigmas from the baseline, three of which are usual."""
        usual = replace(blank_day(0, 0, len(CHANNELS)), usual=np.full(len(CHANNELS), 3.0))
        of_seven = day_of(1, {FORWARD: [201.7] * HOURS})
        found = rules_of(of_seven, replace(MEMORY, days=(usual,)))
        assert ("departure", FORWARD) in rules_of(of_seven)
        assert ("departure", FORWARD) not in found

    @pytest.mark.need(34)
    def test_single_far_reading_raises_nothing(self) -> None:
        assert rules_of(day_of(1, {FORWARD: [201, 201, 209, 201, 201, 201]})) == set()

    @pytest.mark.need(9)
    def test_far_reading_that_was_read_twice_stands_at_once(self) -> None:
        confirmed = pd.DataFrame(False, index=range(HOURS), columns=list(TRUE))
        confirmed.loc[2, FORWARD] = True
        sheets = day_of(1, {FORWARD: [201, 201, 209, 201, 201, 201]}, is_confirmed=confirmed)
        (episode,) = judge_day(MEMORY, sheets, METERS, []).episodes
        assert (episode.since, episode.until) == (sheets.minute[2], sheets.minute[3])

    def test_one_that_stood_before_ends_when_it_is_back(self) -> None:
        far = day_of(1, {FORWARD: [202] * HOURS})
        stood = judge_day(MEMORY, far, METERS, []).standing
        (ended,) = judge_day(MEMORY, day_of(2), METERS, stood).episodes
        assert ended.until == day_of(2).minute[0]

    @pytest.mark.case("C27")
    def test_point_without_a_baseline_raises_nothing(self) -> None:
        assert rules_of(day_of(1, {FORWARD: [260] * HOURS}), Memory(CHANNELS)) == set()

    @pytest.mark.case("C14")
    def test_one_ratio_of_all_is_no_flag_and_is_not_learned_of(self) -> None:
        """Without two more meters that go with the power there would be too few: four are asked."""
        more = facts(FORWARD, "driver_anode_current", "anode_current", stage="driver")
        meters = {**METERS, FORWARD: more}
        channels = (*channels_of(meters.values()),)
        lower = {key: [0.63 * TRUE[key]] * HOURS for key in (V1, V2, TOTAL, FORWARD)}
        sheets = replace(day_of(1, lower), values=np.array([[*_first_four(lower)]] * HOURS))
        four = tuple(one for one in channels if one.goes_with_power)
        known = {(one.key, place_of(one)): baseline(one) for one in four}
        narrow = replace(
            sheets,
            is_confirmed=np.zeros((HOURS, 4), dtype=bool),
            says=np.ones((HOURS, 4), dtype=bool),
        )
        judged = judge_day(Memory(four, known), narrow, meters, [])
        assert judged.episodes == ()
        assert np.isnan(judged.values).all()


def _first_four(values: dict[int, Sequence[float]]) -> list[float]:
    return [values[key][0] for key in (V1, V2, TOTAL, FORWARD)]


class TestRelations:
    @pytest.mark.need(40)
    def test_pair_out_of_balance_is_told_beside_its_meter(self) -> None:
        found = rules_of(day_of(1, {V1: [13.4] * HOURS, TOTAL: [28.4] * HOURS}))
        assert ("pair-departure", V1) in found
        assert ("ht-sum-departure", TOTAL) not in found

    @pytest.mark.need(39)
    def test_total_that_differs_from_its_parts_is_told(self) -> None:
        assert ("ht-sum-departure", TOTAL) in rules_of(day_of(1, {TOTAL: [29.0] * HOURS}))

    @pytest.mark.need(43)
    def test_reflected_power_is_judged_as_a_ratio(self) -> None:
        """Both powers at half: the ratio is as before."""
        half = {FORWARD: [100.5] * HOURS, REFLECTED: [0.5] * HOURS}
        assert {rule for rule, _meter in rules_of(day_of(1, half))} == {"departure"}
        assert ("reflection-departure", REFLECTED) in rules_of(
            day_of(1, {REFLECTED: [3.0] * HOURS})
        )


class TestShifts:
    def moved(self, days: int, value: float) -> tuple[Memory, list]:
        """Days with the forward power away by a little, and the shifts that stand after them."""
        memory, standing = MEMORY, []
        for number in range(1, days + 1):
            sheets = day_of(number, {FORWARD: [value] * HOURS})
            judged = judge_day(memory, sheets, METERS, [])
            memory = with_day(memory, number, sheets, judged.values)
            _changed, standing = judge_shifts(memory, sheets, standing)
        return memory, standing

    def test_days_away_by_less_than_a_departure_are_a_shift(self) -> None:
        _memory, standing = self.moved(SHIFT_DAYS, 201.45)
        assert [(one.rule, one.meter_id) for one in standing] == [("shift", FORWARD)]

    def test_one_day_is_none(self) -> None:
        assert self.moved(1, 201.45)[1] == []

    def test_one_wild_level_among_usual_ones_is_none(self) -> None:
        memory, standing = self.moved(SHIFT_DAYS - 1, 201.0)
        wild = day_of(SHIFT_DAYS, {FORWARD: [290.0] * HOURS})
        memory = with_day(memory, SHIFT_DAYS, wild, judge_day(memory, wild, METERS, []).values)
        assert judge_shifts(memory, wild, standing)[1] == []

    @pytest.mark.case("C19")
    def test_event_begins_anew_and_forgets_the_shift(self) -> None:
        memory, _standing = self.moved(SHIFT_DAYS, 201.45)
        memory = begun_anew(memory, [Event(SHIFT_DAYS + 1, frozenset({"forward_power"}))])
        sheets = day_of(SHIFT_DAYS + 1, {FORWARD: [201.45] * HOURS})
        memory = with_day(memory, SHIFT_DAYS + 1, sheets, sheets.values)
        column = [one.key for one in CHANNELS].index("forward_power")
        assert memory.last.shift[column] == 0
        assert ("forward_power", "6105 A1 200 tap") not in memory.baselines

    def test_work_on_a_coil_begins_its_waves_alone_anew(self) -> None:
        """Of a channel that heeds no wave nothing is forgotten."""
        own, other = "6105 A1 200 tap", "9690 A1 200 tap"
        key = "forward_power"
        known = {(key, place): MEMORY.baselines[key, own] for place in (own, other)}
        work = Event(5, frozenset({key}), frozenset({"6105", "7265"}))
        memory = begun_anew(replace(MEMORY, baselines=known), [work])
        assert set(memory.baselines) == {(key, other)}
        begun = Begun([work])
        assert (begun.at(key, own), begun.at(key, other), begun.of(key)) == (5, 0, 0)

    def test_power_is_no_wave(self) -> None:
        work = Event(5, frozenset({"x"}), frozenset({"200"}))
        assert not work.touches("x", "6105 A1 200 tap")


class TestBeyond:
    """A total of 60 A at 1.5 % and two parts of 20 A: root of 0.9^2 + 2 x 0.3^2 = 0.995 A, and
    three sigmas of errors that may lie anywhere within that are 1.72 A."""

    CLASS = {V1: 0.3, V2: 0.3, TOTAL: 0.9}

    def judged(self, by: dict[int, Sequence[float]]) -> dict[str, dict[str, float]]:
        """By rule the evidence of a first day: no baseline is known yet."""
        meters = {
            key: replace(one, error=self.CLASS.get(key, 0.0), includes="final anodes")
            for key, one in METERS.items()
        }
        judged = judge_day(Memory(CHANNELS), day_of(1, by), meters, [])
        return {one.rule: one.evidence for one in judged.standing}

    @pytest.mark.need(39)
    @pytest.mark.parametrize(("total", "rules"), [(26.4, set()), (26.6, {"ht-sum-beyond"})])
    def test_total_is_held_against_the_combined_error(self, total: float, rules: set[str]) -> None:
        found = self.judged({TOTAL: [total] * HOURS})
        assert set(found) == rules
        for facts in found.values():
            assert facts["allowed"] == pytest.approx(1.72, abs=0.01)

    @pytest.mark.need(40)
    def test_pair_is_beyond_at_fifteen_points(self) -> None:
        assert set(self.judged({V1: [13.3] * HOURS, TOTAL: [25.7] * HOURS})) == set()
        assert set(self.judged({V1: [14.5] * HOURS, TOTAL: [26.9] * HOURS})) == {"pair-beyond"}

    def test_one_reading_that_is_not_repeated_is_none(self) -> None:
        once = [24.8, 24.8, 30.0, 24.8, 24.8, 24.8]
        assert set(self.judged({TOTAL: once})) == set()


@pytest.mark.need(39)
class TestFeederPower:
    """25.82 A in 300 ohm is 200 kW, as the demo station's tables have it."""

    FACTS = {
        1: MeterFacts(1, "l1", "feeder_current", error=0.8, unit_w=1.0, line_ohm=300.0),
        2: MeterFacts(2, "forward", "forward_power", error=12.0, unit_w=1000.0),
        3: MeterFacts(3, "back", "reflected_power", error=1.0, unit_w=1000.0),
    }
    CHANNEL = Channel("feeder dry", (1, 2, 3), Heeds.AERIAL, 1.0, relation="feeder")

    def compared(
        self, current_a: float, back_kw: float = 1.0, **over: float
    ) -> tuple[float, float]:
        meters = {key: replace(one, **over) if key == 1 else one for key, one in self.FACTS.items()}
        table = {1: np.array([current_a]), 2: np.array([200.0 + back_kw]), 3: np.array([back_kw])}
        found, allowed = differences(table, meters, [self.CHANNEL])
        return float(found[0, 0]), float(allowed[0, 0])

    def test_power_by_the_current_agrees(self) -> None:
        assert self.compared(25.82)[0] == pytest.approx(0.0, abs=0.05)

    def test_errors_are_combined(self) -> None:
        """Current 2 x 0.8 / 25.82 of 200 = 12.39 kW, power root of 12^2 + 1 = 12.04 kW; sqrt(3)
        times the root of both squares, of 200."""
        expected = 100 * 3**0.5 * (12.39**2 + 12.04**2) ** 0.5 / 200
        assert self.compared(25.82)[1] == pytest.approx(expected, rel=1e-3)

    def test_standing_waves_or_no_impedance_say_nothing(self) -> None:
        assert np.isnan(self.compared(25.82, back_kw=2.0)[0])
        assert np.isnan(self.compared(25.82, line_ohm=np.nan)[0])


class TestWaterAboveRaw:
    """The weather moves the raw water by 5 C: half of it comes through the exchanger."""

    FACTS = [
        MeterFacts(1, "raw_inlet_temperature", "water_temperature", step=0.5, usual=15.0),
        MeterFacts(2, "loop_inlet_temperature", "water_temperature", step=0.5, usual=32.0),
    ]

    def test_warmer_water_is_held_against_the_coldest(self) -> None:
        (channel,) = relation_channels(self.FACTS)
        assert (channel.key, channel.meter_ids) == ("above-raw loop_inlet_temperature", (2, 1))
        assert channel.heeds == Heeds.POWER

    def test_season_goes_out_of_it(self) -> None:
        table = pd.DataFrame({1: [15.0, 20.0, 15.0], 2: [32.0, 34.5, 35.0]})
        found = relation_values("above-raw", table, self.FACTS[::-1])
        assert found.tolist() == [24.5, 24.5, 27.5]

    def test_temperature_by_itself_raises_no_shift(self) -> None:
        whole = channels_of(self.FACTS)
        assert not any(one.is_steady for one in whole)
        assert [one.key for one in whole if one.is_judged] == ["loop_inlet_temperature"]
        assert all(one.is_steady for one in relation_channels(self.FACTS))
