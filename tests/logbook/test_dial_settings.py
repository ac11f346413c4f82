"""Best-known dial settings: runs, medians, tubes, interpolation by resonance."""

import pandas as pd
import pytest

from logbook.dial_settings import best_known, between, by_power, first_settings, good_runs
from logbook.points import intervals

DIAL = 7
DAY = pd.Timestamp("2026-03-01T00:00Z")


def log_of(*changes: tuple) -> pd.DataFrame:
    """Standing points from (hour, no, state, kHz, antenna)."""
    rows = [
        {
            "observed_at": DAY + pd.Timedelta(hours=hour),
            "no": no,
            "state": state,
            "frequency_khz": khz,
            "antenna": antenna,
            "coil_set": None,
            "power_kw": 200.0,
            "set_by": "tap",
            "is_retune": khz is not None,
        }
        for hour, no, state, khz, antenna in changes
    ]
    return intervals(pd.DataFrame(rows))


def read(*readings: tuple[float, float]) -> pd.DataFrame:
    """Readings of the dial from (hour, value)."""
    start = int(DAY.timestamp() // 60)
    rows = [(start + int(hour * 60), DIAL, value) for hour, value in readings]
    return pd.DataFrame(rows, columns=["minute", "meter_id", "value"])


RUNS = good_runs(
    log_of(
        (0, 1, "on_air", 6105.0, "A1"),
        (4, 2, "on_air", 9690.0, "A2"),
        (8, 3, "on_air", 6105.0, "A1"),
        (12, 4, "on_air", 6105.0, "A1"),  # stopped after ten minutes: not a good change
        (12.2, 5, "standby", None, None),
        (14, 6, "on_air", 6105.0, "A1"),
    )
)
READ = read((0.5, 488), (2, 494), (4.5, 300), (9, 490), (12.1, 999), (15, 495))


@pytest.mark.need(88)
class TestRuns:
    def test_run_that_soon_stopped_is_no_good_one(self) -> None:
        assert RUNS["run"].tolist() == [1, 2, 3, 6]

    def test_last_run_is_open(self) -> None:
        assert pd.isna(RUNS["end"].iloc[-1])
        assert RUNS["end"].iloc[0] == RUNS["begin"].iloc[1]

    def test_first_reading_of_each_run_is_its_setting(self) -> None:
        assert first_settings(RUNS, READ)[DIAL].tolist() == [488, 300, 490, 495]

    def test_no_readings_give_no_settings(self) -> None:
        assert first_settings(RUNS, read()).columns.empty


@pytest.mark.need(19)
class TestBestKnown:
    def known(self, khz: float = 6105.0, antenna: str = "A1", since: float | None = None):
        tubes = None if since is None else DAY + pd.Timedelta(hours=since)
        found = best_known(
            RUNS,
            first_settings(RUNS, READ),
            frequency_khz=khz,
            antenna=antenna,
            tubes_since=tubes,
        )
        return found.get(DIAL)

    def test_median_with_the_greatest_distance(self) -> None:
        """488, 490, 495: median 490, none further than 5, the newest 495."""
        known = self.known()
        assert (known.median, known.spread, known.runs, known.last) == (490, 5, 3, 495)

    def test_other_wave_or_antenna_counts_for_nothing(self) -> None:
        assert self.known(khz=9690.0, antenna="A2").median == 300
        assert self.known(antenna="A2") is None
        assert self.known(khz=7265.0) is None

    def test_runs_with_the_tubes_that_stand_count_alone(self) -> None:
        known = self.known(since=7)
        assert (known.median, known.runs, known.is_before_tubes) == (492.5, 2, False)

    def test_after_a_tube_change_the_older_ones_are_said_to_be_so(self) -> None:
        known = self.known(since=20)
        assert (known.median, known.is_before_tubes) == (490, True)


@pytest.mark.need(20)
class TestBetween:
    """The demo station's table: L 3.0 uH and C = 1 / ((2 pi f)^2 L) on a dial of 340 pF."""

    def dial(self, khz: float) -> float:
        capacitance_pf = 1e12 / ((2 * 3.141592653589793 * khz * 1e3) ** 2 * 3.0e-6)
        return (capacitance_pf - 60) / 340 * 1000

    @pytest.mark.parametrize("khz", [6200.0, 6600.0, 7000.0])
    def test_it_is_the_circuits_own_law(self, khz: float) -> None:
        known = {6105.0: self.dial(6105.0), 7265.0: self.dial(7265.0)}
        found = between(known, khz)
        assert found.value == pytest.approx(self.dial(khz), abs=1e-9)
        assert (found.low_khz, found.high_khz) == (6105.0, 7265.0)

    @pytest.mark.parametrize("khz", [6000.0, 7265.0, 7300.0])
    def test_nothing_is_said_outside_the_span(self, khz: float) -> None:
        assert between({6105.0: 490.0, 7265.0: 294.0}, khz) is None

    def test_nearest_two_are_taken(self) -> None:
        found = between({5950.0: 9.0, 6105.0: 490.0, 7265.0: 294.0, 7400.0: 9.0}, 6600.0)
        assert (found.low_khz, found.high_khz) == (6105.0, 7265.0)


def test_coupling_by_power() -> None:
    runs = RUNS.assign(power_kw=[200.0, 200.0, 120.0, 120.0])
    found = by_power(runs, first_settings(RUNS, READ)[DIAL], 6105.0)
    assert {power: one.median for power, one in found.items()} == {120.0: 492.5, 200.0: 488.0}
