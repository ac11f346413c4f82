"""The operating point at an instant, on changes small enough to read."""

import numpy as np
import pandas as pd
import pytest

from logbook.points import OperatingPoint, intervals, point_at


def change(at: str, no: int, **stated: object) -> dict[str, object]:
    blank = dict.fromkeys(["state", "antenna", "coil_set", "set_by"])
    numbers = {"frequency_khz": np.nan, "power_kw": np.nan}
    instant = pd.Timestamp(f"2026-03-01T{at}Z")
    return {"observed_at": instant, "no": no, **blank, **numbers, "is_retune": False, **stated}


def at(changes: list[dict[str, object]], clock: str) -> OperatingPoint:
    minute = int(pd.Timestamp(f"2026-03-01T{clock}Z").timestamp() // 60)
    return point_at(intervals(pd.DataFrame(changes)), minute)


ON_AIR = change("06:00:00", 1, state="on_air", frequency_khz=6105.0, power_kw=200.0, is_retune=True)


class TestPointAt:
    def test_before_the_first_change_nothing_is_known(self) -> None:
        assert at([ON_AIR], "05:59:00") == OperatingPoint()

    def test_change_holds_from_its_own_minute(self) -> None:
        assert at([ON_AIR], "06:00:00").state == "on_air"

    def test_what_did_not_change_stands(self) -> None:
        reduced = change("07:00:00", 2, power_kw=120.0, set_by="tap")
        point = at([ON_AIR, reduced], "07:30:00")
        assert (point.state, point.frequency_khz, point.power_kw) == ("on_air", 6105.0, 120.0)

    def test_entries_of_one_second_go_by_number(self) -> None:
        later = change("06:00:00", 2, power_kw=80.0)
        assert at([later, ON_AIR], "06:00:00").power_kw == 80.0

    def test_change_written_late_moves_only_what_it_states(self) -> None:
        reduced = change("08:00:00", 2, power_kw=120.0)
        told_late = change("07:00:00", 3, frequency_khz=9690.0, is_retune=True)
        point = at([ON_AIR, reduced, told_late], "09:00:00")
        assert (point.frequency_khz, point.power_kw) == (9690.0, 120.0)

    @pytest.mark.need(88)
    def test_run_begins_at_a_retune_and_not_at_a_change_of_state(self) -> None:
        standby = change("07:00:00", 2, state="standby")
        retuned = change("08:00:00", 3, is_retune=True)
        assert at([ON_AIR, standby], "07:30:00").run == 1
        assert at([ON_AIR, standby, retuned], "08:00:00").run == 3

    def test_state_is_dated_from_its_own_change(self) -> None:
        point = at([ON_AIR, change("07:00:00", 2, power_kw=120.0)], "07:30:00")
        assert point.since == pd.Timestamp("2026-03-01T06:00Z")
