"""Days of readings judged by what is expected: departures, shifts, one cause."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from health.rules.baselines import Baseline
from health.rules.channels import Channel, Heeds, MeterFacts, channels_of
from health.rules.consistency import relation_channels
from health.rules.days import judge_day, judge_shifts
from health.rules.memory import SHIFT_DAYS, Memory, begun_anew, with_day
from health.rules.notes import notes_of_day
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
    return {(one.rule, one.meter_id) for one in judge_day(memory, sheets, []).episodes}


class TestDepartures:
    """One sigma is 0.1, and six of them stand where fewer than three runs are known."""

    def test_usual_day_raises_nothing(self) -> None:
        assert rules_of(day_of(1)) == set()

    def test_two_far_readings_in_a_row_stand_at_the_second(self) -> None:
        sheets = day_of(1, {FORWARD: [201, 201, 202, 202, 202, 202]})
        (episode,) = judge_day(MEMORY, sheets, []).episodes
        assert (episode.rule, episode.meter_id) == ("departure", FORWARD)
        assert episode.since == sheets.minute[3]
        assert episode.evidence["centre"] == pytest.approx(201.0)

    @pytest.mark.need(34)
    def test_single_far_reading_raises_nothing(self) -> None:
        assert rules_of(day_of(1, {FORWARD: [201, 201, 209, 201, 201, 201]})) == set()

    @pytest.mark.need(9)
    def test_far_reading_that_was_read_twice_stands_at_once(self) -> None:
        confirmed = pd.DataFrame(False, index=range(HOURS), columns=list(TRUE))
        confirmed.loc[2, FORWARD] = True
        sheets = day_of(1, {FORWARD: [201, 201, 209, 201, 201, 201]}, is_confirmed=confirmed)
        (episode,) = judge_day(MEMORY, sheets, []).episodes
        assert (episode.since, episode.until) == (sheets.minute[2], sheets.minute[3])

    def test_one_that_stood_before_ends_when_it_is_back(self) -> None:
        far = day_of(1, {FORWARD: [202] * HOURS})
        stood = judge_day(MEMORY, far, []).standing
        (ended,) = judge_day(MEMORY, day_of(2), stood).episodes
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
        judged = judge_day(Memory(four, known), narrow, [])
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
            judged = judge_day(memory, sheets, [])
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
        memory = with_day(memory, SHIFT_DAYS, wild, judge_day(memory, wild, []).values)
        assert judge_shifts(memory, wild, standing)[1] == []

    @pytest.mark.case("C19")
    def test_event_begins_anew_and_forgets_the_shift(self) -> None:
        memory, _standing = self.moved(SHIFT_DAYS, 201.45)
        memory = begun_anew(memory, ["forward_power"])
        sheets = day_of(SHIFT_DAYS + 1, {FORWARD: [201.45] * HOURS})
        memory = with_day(memory, SHIFT_DAYS + 1, sheets, sheets.values)
        column = [one.key for one in CHANNELS].index("forward_power")
        assert memory.last.shift[column] == 0
        assert ("forward_power", "6105 A1 200 tap") not in memory.baselines


class TestNotes:
    """Readings scatter by more than a step: six rows that are the same were hardly read."""

    def rows(self, *, copied_rows: int) -> Sheets:
        rng = np.random.default_rng(8)
        by = {key: rng.normal(value, 0.06, HOURS).round(2) for key, value in TRUE.items()}
        for values in by.values():
            values[HOURS - copied_rows :] = values[HOURS - copied_rows]
        return day_of(1, by)

    @pytest.mark.need(79)
    @pytest.mark.case("C7")
    def test_rows_that_are_all_the_same_are_a_quiet_note(self) -> None:
        sheets = self.rows(copied_rows=HOURS)
        (note,) = notes_of_day(MEMORY, sheets, METERS)
        assert (note.rule, note.priority, note.evidence["rounds"]) == ("copied", "low", HOURS)
        assert (note.since, note.until) == (sheets.minute[0], sheets.minute[-1])

    @pytest.mark.parametrize("copied_rows", [1, 2])
    def test_rows_that_were_read_are_none(self, copied_rows: int) -> None:
        assert notes_of_day(MEMORY, self.rows(copied_rows=copied_rows), METERS) == []
