"""Which rounds are due: slots by state, what is open, late or missed. Pure, on small logs."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from logbook.due import Due, rounds_due, slots_asked
from logbook.points import intervals

DAY = datetime(2026, 3, 2, tzinfo=UTC)
ASKED = {"on_air": 60, "reduced": 30}
BLANK = {"antenna": None, "coil_set": None, "set_by": None, "frequency_khz": np.nan}


def at(clock: str) -> datetime:
    hours, minutes = clock.split(":")
    return DAY + timedelta(hours=int(hours), minutes=int(minutes))


def log(*states: tuple[str, str]) -> pd.DataFrame:
    """The standing points of a log of (clock, state)."""
    rows = [
        {
            "observed_at": pd.Timestamp(at(clock)),
            "no": no,
            "state": state,
            **BLANK,
            "power_kw": np.nan,
            "is_retune": False,
        }
        for no, (clock, state) in enumerate(states, start=1)
    ]
    return intervals(pd.DataFrame(rows))


def clocks(standing: pd.DataFrame, since: str = "0:00", until: str = "24:00") -> list[str]:
    slots = slots_asked(standing, ASKED, at(since), at(until))
    return [f"{slot.at:%H:%M}" for slot in slots]


def due(standing: pd.DataFrame, now: str, *taken: str) -> Due:
    return rounds_due(
        standing,
        ASKED,
        {at(clock) for clock in taken},
        since=DAY,
        now=at(now),
        late_after=timedelta(minutes=15),
    )


class TestSlotsAsked:
    @pytest.mark.need(5)
    def test_off_set_owes_no_round(self) -> None:
        assert clocks(log(("0:00", "off"))) == []

    def test_rounds_are_asked_from_the_change_to_on_air_until_off(self) -> None:
        standing = log(("0:00", "off"), ("4:30", "on_air"), ("7:00", "off"))
        assert clocks(standing) == ["05:00", "06:00"]

    def test_each_state_has_its_own_interval(self) -> None:
        standing = log(("5:00", "on_air"), ("6:00", "reduced"), ("7:00", "off"))
        assert clocks(standing) == ["05:00", "06:00", "06:30"]

    def test_before_the_first_change_nothing_is_asked(self) -> None:
        assert clocks(log(("5:00", "on_air")), until="5:00") == []

    def test_empty_log_asks_for_nothing(self) -> None:
        assert clocks(log(("5:00", "on_air")).iloc[:0]) == []


class TestRoundsDue:
    def test_next_slot_is_due_in_its_time(self) -> None:
        found = due(log(("5:30", "on_air")), "5:50")
        assert found.slot is not None
        assert (found.slot.at, found.level) == (at("6:00"), "")

    def test_open_slot_is_due_and_late_past_the_stations_minutes(self) -> None:
        standing = log(("5:30", "on_air"))
        assert due(standing, "6:15").level == "due"
        assert due(standing, "6:16").level == "late"

    @pytest.mark.need(7)
    def test_slot_without_a_round_is_missed_when_the_next_one_opens(self) -> None:
        found = due(log(("5:30", "on_air")), "8:00", "7:00")
        assert [slot.at for slot in found.missed] == [at("6:00")]
        assert found.slot is not None
        assert found.slot.at == at("8:00")

    def test_taken_slot_leaves_the_next_one(self) -> None:
        found = due(log(("5:30", "on_air")), "6:10", "6:00")
        assert found.slot is not None
        assert (found.slot.at, found.missed) == (at("7:00"), ())

    @pytest.mark.need(5)
    def test_off_set_has_no_next_round(self) -> None:
        assert due(log(("5:30", "off")), "8:00") == Due(None, "", ())
