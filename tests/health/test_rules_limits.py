"""The rule of fixed alarm limits, on frames small enough to work by hand."""

import numpy as np
import pandas as pd
import pytest

from health.rules.judge import Carry, judge

METER = 7


def frame(*values: float, **columns: object) -> pd.DataFrame:
    """Readings a minute apart of one meter with limits 9.2 and 10.8, deadband 0.1."""
    count = len(values)
    plain = {
        "minute": np.arange(100, 100 + count),
        "no": np.arange(1, count + 1),
        "meter_id": METER,
        "value": np.array(values, dtype=float),
        "bound": "",
        "mark": "=",
        "low_alarm": 9.2,
        "high_alarm": 10.8,
        "deadband": 0.1,
        "limit_id": 3,
        "priority": "medium",
        "is_live": True,
        "is_vital": False,
    }
    return pd.DataFrame({**plain, **columns})


def spans(readings: pd.DataFrame) -> list[tuple[str, int, int | None]]:
    episodes, _carry = judge(readings, Carry())
    return [(episode.rule, episode.since, episode.until) for episode in episodes]


class TestLimitRule:
    """Expected spans are worked by hand from the values: minute 100 is the first reading."""

    def test_value_inside_raises_nothing(self) -> None:
        assert spans(frame(10.0, 10.7, 9.3)) == []

    @pytest.mark.need(8)
    def test_value_at_the_limit_is_beyond_it(self) -> None:
        assert spans(frame(10.0, 10.8)) == [("limit-high", 101, None)]
        assert spans(frame(9.2)) == [("limit-low", 100, None)]

    def test_value_back_inside_by_less_than_the_deadband_still_stands(self) -> None:
        assert spans(frame(10.9, 10.75)) == [("limit-high", 100, None)]

    def test_value_back_by_the_deadband_ends_it(self) -> None:
        assert spans(frame(10.9, 10.7)) == [("limit-high", 100, 101)]

    def test_second_excursion_is_an_episode_of_its_own(self) -> None:
        assert spans(frame(10.9, 10.0, 10.9)) == [
            ("limit-high", 100, 101),
            ("limit-high", 102, None),
        ]

    @pytest.mark.need(34)
    def test_single_crossing_asks_and_raises_nothing(self) -> None:
        assert spans(frame(10.0, 10.9, 10.0, mark="")) == []

    @pytest.mark.need(34)
    def test_second_reading_beyond_stands(self) -> None:
        assert spans(frame(10.0, 10.9, 10.9, mark="")) == [("limit-high", 102, None)]

    @pytest.mark.need(34)
    def test_second_reading_of_another_day_is_a_first_one(self) -> None:
        two_days = frame(10.9, 10.9, mark="", minute=[1439, 1440])
        assert spans(two_days) == []

    @pytest.mark.need(66)
    def test_high_priority_stands_at_once(self) -> None:
        assert spans(frame(9.0, mark="", priority="high")) == [("limit-low", 100, None)]

    @pytest.mark.need(66)
    def test_vital_low_side_is_of_high_priority_whatever_the_register_gives(self) -> None:
        low, high = frame(9.0, mark="", is_vital=True), frame(11.0, is_vital=True)
        ((of_low,), _carry), ((of_high,), _carry) = judge(low, Carry()), judge(high, Carry())
        assert (of_low.rule, of_low.priority) == ("limit-low", "high")
        assert (of_high.rule, of_high.priority) == ("limit-high", "medium")

    @pytest.mark.need(33)
    def test_what_the_state_ended_says_so_and_what_returned_does_not(self) -> None:
        suppressed = frame(9.0, 0.0, is_live=np.array([True, False]))
        for readings, is_suppressed in ((suppressed, True), (frame(9.0, 10.0), False)):
            (episode,), _carry = judge(readings, Carry())
            assert (episode.until, "is_suppressed" in episode.evidence) == (101, is_suppressed)

    def test_leap_from_high_to_low_ends_one_and_begins_the_other(self) -> None:
        assert spans(frame(10.9, 9.0)) == [("limit-high", 100, 101), ("limit-low", 101, None)]

    @pytest.mark.need(6)
    def test_missing_number_neither_begins_nor_ends(self) -> None:
        assert spans(frame(np.nan, 10.9, np.nan, np.nan)) == [("limit-high", 101, None)]

    @pytest.mark.need(10)
    @pytest.mark.case("C22")
    def test_off_scale_counts_as_alarm_on_its_side(self) -> None:
        assert spans(frame(15.0, bound=">")) == [("limit-high", 100, None)]

    @pytest.mark.need(15)
    def test_state_that_suppresses_the_meter_ends_it_and_raises_nothing(self) -> None:
        live = np.array([True, False, False])
        assert spans(frame(9.0, 0.0, 0.0, is_live=live)) == [("limit-low", 100, 101)]

    @pytest.mark.case("C27")
    def test_no_limit_raises_nothing(self) -> None:
        assert spans(frame(99.0, low_alarm=np.nan, high_alarm=np.nan)) == []

    def test_evidence_holds_the_reading_and_the_limit(self) -> None:
        (episode,), _carry = judge(frame(9.0), Carry())
        assert episode.evidence == {"value": 9.0, "bound": "", "limit": 9.2, "limit_id": 3}
        assert episode.key == ("limit-low", METER, 1)

    def test_meters_do_not_touch_each_other(self) -> None:
        both = pd.concat([frame(10.9, 10.9), frame(10.0, 10.0, meter_id=8)])
        assert spans(both.sort_values("minute", kind="stable")) == [("limit-high", 100, None)]


class TestCarry:
    def test_empty_frame_keeps_what_stands(self) -> None:
        _episodes, carry = judge(frame(10.9), Carry())
        episodes, after = judge(frame(), carry)
        assert after == carry
        assert len(episodes) == 1

    @pytest.mark.parametrize("seed", range(5))
    def test_two_frames_give_what_one_gives(self, seed: int) -> None:
        """Random walks over the limits with holes and states, cut at every place."""
        random = np.random.default_rng(seed)
        values = random.choice([9.0, 9.25, 10.0, 10.75, 11.0, np.nan], size=24)
        whole = frame(*values, is_live=random.choice([True, True, True, False], size=24))
        expected, _carry = judge(whole, Carry())
        for cut in range(25):
            assert cut_in_two(whole, cut) == {episode.key: episode for episode in expected}


def cut_in_two(whole: pd.DataFrame, cut: int) -> dict:
    first, carry = judge(whole.iloc[:cut], Carry())
    second, _carry = judge(whole.iloc[cut:], carry)
    return {episode.key: episode for episode in [*first, *second]}
