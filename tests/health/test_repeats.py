"""Readings that repeat: rows copied, a meter that is stuck, and a coarse meter left alone."""

from datetime import date
from functools import cache
from time import process_time
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
from scipy.stats import norm

from fixtures.generator import History, history
from fixtures.generator.faults import draw_fault
from fixtures.generator.meters import METERS
from health.rules.repeats import SHARE, Copied, copied, log10_of_repeats
from health.rules.stuck import Stuck, stuck

Numbers = npt.NDArray[np.float64]
START, WEEK = date(2025, 1, 6), 7 * 24 * 60
STEPS = np.array([0.2, 0.02, 5.0, 5.0, 0.5, 0.1, 0.1, 1.0])
ROW = np.array([12.4, 0.52, 230.0, 310.0, 41.5, 8.7, 5.1, 66.0])
RISING = ROW + STEPS * np.arange(10)[:, None]


def hours(count: int) -> npt.NDArray[np.int64]:
    return 60 * np.arange(count)


def six_the_same() -> Numbers:
    rows = RISING.copy()
    rows[3:9] = rows[3]
    return rows


def found_in(rows: Numbers, **over: Any) -> list[Copied]:
    given = {"steps": STEPS, "scatters": STEPS} | over
    return copied(rows, given.pop("minutes", hours(len(rows))), **given)


class TestChances:
    def test_two_readings_agree_with_the_closed_form(self) -> None:
        """Two that lie t steps apart fall in one cell with 1 - t; t is normal with w = r root 2."""
        ratio = np.array([0.05, 0.3, 1.0, 3.0])
        w = np.sqrt(2) * ratio
        closed = 2 * norm.cdf(1 / w) - 1 - w * np.sqrt(2 / np.pi) * -np.expm1(-0.5 / w**2)
        both = 10 ** log10_of_repeats(ratio, np.full(4, 2))
        assert both == pytest.approx(closed, rel=1e-3)

    def test_fine_meter_agrees_with_a_smooth_density(self) -> None:
        """r = 4, n = 3: the density 1 / (4 root of 2 pi) = 0.0997, squared, over root of 3."""
        assert 10 ** log10_of_repeats([4.0], [3])[0] == pytest.approx(0.00574, rel=0.01)

    def test_readings_made_by_chance_repeat_as_often(self) -> None:
        rng = np.random.default_rng(5)
        levels = rng.uniform(0, 1, (200_000, 1))
        cells = np.rint(levels + rng.normal(0, 0.4, (200_000, 5)))
        share = (cells == cells[:, :1]).all(axis=1).mean()
        assert 10 ** log10_of_repeats([0.4], [5])[0] == pytest.approx(share, rel=0.03)

    def test_coarse_meter_repeats_by_itself(self) -> None:
        assert 10 ** log10_of_repeats([0.01], [50])[0] > 0.9

    def test_one_reading_is_certain(self) -> None:
        assert log10_of_repeats([0.4, 3.0], [1, 1]) == pytest.approx([0, 0], abs=1e-4)


@pytest.mark.need(79)
@pytest.mark.case("C7")
class TestCopied:
    """A sheet of eight meters whose scatter is one step: six rows have 1/300 each by chance."""

    def test_six_rows_the_same_are_found(self) -> None:
        (one,) = found_in(six_the_same())
        assert (one.first, one.last, one.meters) == (3, 8, tuple(range(8)))
        assert one.log10 == pytest.approx(SHARE * 8 * -2.473, abs=0.01)

    def test_one_step_of_one_meter_ends_it(self) -> None:
        rows = six_the_same()
        rows[6, 2] += STEPS[2]
        assert found_in(rows) == []
        assert [(one.first, one.last) for one in found_in(rows, worst=-1)] == [(3, 5)]

    def test_last_bits_are_no_difference(self) -> None:
        rows = six_the_same()
        rows[4, 5] += 1e-9
        assert len(found_in(rows)) == 1

    def test_coarse_meters_alone_are_left_alone(self) -> None:
        assert found_in(np.tile(ROW, (200, 1)), scatters=0.05 * STEPS) == []

    def test_meter_that_is_not_read_neither_ends_nor_counts(self) -> None:
        rows = six_the_same()
        rows[4:, 1] = np.nan
        (one,) = found_in(rows, worst=-3)
        assert (one.first, one.last, one.meters) == (3, 8, (0, 2, 3, 4, 5, 6, 7))

    def test_unknown_scatter_does_not_count_and_ends_all_the_same(self) -> None:
        scatters = np.where(np.arange(8) == 1, np.nan, STEPS)
        rows = six_the_same()
        assert found_in(rows, scatters=scatters, worst=-3)[0].meters == (0, 2, 3, 4, 5, 6, 7)
        rows[6, 1] += STEPS[1]
        assert found_in(rows, scatters=scatters, worst=-3) == []

    def test_meters_at_zero_tell_nothing(self) -> None:
        assert found_in(np.zeros((6, 8)), worst=0) == []

    def test_two_rows_are_never_enough(self) -> None:
        many = np.ones((2, 500))
        assert copied(many, hours(2), steps=np.ones(500), scatters=np.ones(500)) == []

    def test_rounds_within_minutes_are_one(self) -> None:
        assert found_in(six_the_same(), minutes=2 * np.arange(10), worst=0) == []

    @pytest.mark.parametrize("count", [0, 1])
    def test_nothing_or_one_row_is_nothing(self, count: int) -> None:
        assert found_in(RISING[:count]) == []


def stuck_in(row: npt.ArrayLike, levels: npt.ArrayLike | None = None, **over: Any) -> list[Stuck]:
    """A meter of step 1, four rounds a run."""
    values = np.asarray(row, dtype=float)[:, None]
    count = len(values)
    expected = np.full((count, 1), np.nan) if levels is None else np.asarray(levels)[:, None]
    given = {"steps": [1.0], "scatters": [0.2], "betweens": [0.5]} | over
    minutes = given.pop("minutes", hours(count))
    return stuck(values, expected, np.arange(count) // 4, minutes, **given)


@pytest.mark.need(79)
class TestStuck:
    def test_flow_that_should_flicker_is_found(self) -> None:
        """r = 0.6: each round at most 2 Phi(0.5 / 0.6) - 1 = 0.595, so some 24 for a millionth."""
        moving, still = [45.0, 46.0] * 5, [46.0] * 30
        (one,) = stuck_in(moving + still, scatters=[0.6])
        assert (one.meter, one.first, one.last) == (0, 9, 39)
        assert one.log10 == pytest.approx(31 * np.log10(0.5953) - 0.45, abs=0.3)
        assert stuck_in(moving + still[:18], scatters=[0.6]) == []

    def test_coarse_meter_may_stay_for_a_year(self) -> None:
        assert stuck_in(np.full(6200, 56.0), scatters=[0.08], betweens=[np.nan]) == []

    def test_current_that_stays_while_the_wave_changes_is_found(self) -> None:
        waves = np.repeat([56.0, 70.0, 62.0, 80.0], 4)
        assert stuck_in(np.full(16, 56.0), np.full(16, 56.0)) == []
        (one,) = stuck_in(np.full(16, 56.0), waves, worst=-5)
        assert (one.first, one.last) == (0, 15)

    def test_one_place_expected_wrongly_is_not_enough(self) -> None:
        levels = np.tile(np.repeat([56.0, 70.0], 4), 4)
        assert stuck_in(np.full(32, 56.0), levels) == []

    def test_what_is_missing_neither_ends_nor_counts(self) -> None:
        row = np.full(60, 56.0)
        row[10:20] = np.nan
        (one,) = stuck_in(row, scatters=[0.6])
        without = stuck_in(row[~np.isnan(row)], scatters=[0.6])[0]
        assert (one.first, one.last) == (0, 59)
        assert one.log10 == pytest.approx(without.log10, abs=0.5)

    def test_level_expected_without_its_scatter_is_not_used(self) -> None:
        waves = np.repeat([56.0, 70.0, 62.0, 80.0], 4)
        assert stuck_in(np.full(16, 56.0), waves, betweens=[np.nan], worst=-2) == []

    def test_rounds_within_minutes_count_once_and_end_it_all_the_same(self) -> None:
        row, near = np.full(60, 56.0), np.repeat(hours(30), 2)
        near[1::2] += 3
        of_hours = stuck_in(row[:30], scatters=[0.6])[0].log10
        (one,) = stuck_in(row, scatters=[0.6], minutes=near)
        assert one.log10 == pytest.approx(of_hours, abs=0.1)
        row[31] = 57.0
        assert stuck_in(row, scatters=[0.6], minutes=near) == []

    def test_meter_at_zero_has_flags_of_its_own(self) -> None:
        assert stuck_in(np.zeros(200), scatters=[0.6]) == []

    def test_nothing_read_is_nothing(self) -> None:
        assert stuck_in(np.full(20, np.nan)) == []
        assert stuck_in([]) == []


def minutes_of(instants: pd.Series) -> npt.NDArray[np.int64]:
    return instants.dt.tz_localize(None).to_numpy("datetime64[m]").astype(np.int64)


class Year:
    """A generated year of one transmitter, counters left out; learned from its first weeks."""

    LEARNED = 700

    def __init__(self, made: History, code: str, only: str = "") -> None:
        meters = [
            one for one in METERS[code] if not one.is_counter and (not only or one.code == only)
        ]
        codes = [meter.code for meter in meters]
        self.values = made.readings[code][codes].to_numpy(dtype=float)
        self.minutes = minutes_of(made.rounds["observed_at"])
        self.runs = made.rounds["run"].to_numpy()
        self.steps = np.array([meter.step for meter in meters])
        self.levels, self.betweens = self.expected(made)
        self.facts = {
            "steps": self.steps,
            "scatters": np.array([meter.scatter for meter in meters]),
        }

    def expected(self, made: History) -> tuple[Numbers, Numbers]:
        """Mean and scatter of the runs before, at the same wave, power and programme."""
        states = made.states[["observed_at", "frequency_khz", "power_kw"]].ffill()
        known = pd.merge_asof(made.rounds[["observed_at", "modulation"]], states, on="observed_at")
        place = known.groupby(["frequency_khz", "power_kw", "modulation"], dropna=False).ngroup()
        rows = pd.DataFrame(self.values).assign(place=place, run=self.runs)
        of_runs = rows.groupby(["place", "run"]).median()
        count, total, squares = (
            one.groupby("place").cumsum() - one
            for one in (of_runs.notna() * 1, of_runs.fillna(0.0), of_runs.fillna(0.0) ** 2)
        )
        before = (total / count).where(count > 3)
        spread = np.sqrt((squares / count - before**2).clip(lower=0.0))
        keys = pd.MultiIndex.from_arrays([place, self.runs])
        return before.reindex(keys).to_numpy(), spread.reindex(keys).to_numpy()

    def copied(self) -> list[Copied]:
        return copied(self.values, self.minutes, **self.facts)

    def stuck(self, rows: slice = slice(None)) -> list[Stuck]:
        given = [table[rows] for table in (self.values, self.levels, self.runs, self.minutes)]
        return stuck(*given, betweens=self.betweens[rows], **self.facts)


@cache
def year(code: str, seed: int) -> Year:
    return Year(history(seed, START, 365, (code,)), code)


@pytest.mark.need(79)
class TestGeneratedYears:
    @pytest.mark.parametrize("code", ["T1", "T3", "M1"])
    def test_year_without_a_fault_raises_nothing(self, code: str) -> None:
        assert year(code, 101).copied() == []
        assert year(code, 101).stuck() == []

    @pytest.mark.case("C7")
    @pytest.mark.parametrize("code", ["T1", "T3"])
    def test_six_hours_of_identical_rows_are_found(self, code: str) -> None:
        whole = year(code, 101)
        for row in np.random.default_rng(7).integers(whole.LEARNED, 6000, 40):
            rows = whole.values[row - 20 : row + 20].copy()
            rows[20:26] = rows[20]
            (one,) = copied(rows, whole.minutes[row - 20 : row + 20], **whole.facts)
            assert one.first == 20
            assert one.last >= 25

    @pytest.mark.parametrize("seed", [101, 102])
    @pytest.mark.parametrize("code", ["T1", "T3", "M1"])
    def test_stuck_meter_is_found_within_a_week(self, code: str, seed: int) -> None:
        fault = draw_fault(seed, "meter_stuck", code, np.datetime64(START, "s"), 365)
        whole = Year(history(seed, START, 365, (code,), fault=fault), code, fault.meter)
        begin = int(fault.start.astype("datetime64[m]").astype(int))
        rows = slice(*np.searchsorted(whole.minutes, [begin - WEEK, begin + WEEK]))
        one = whole.stuck(rows)[0]  # a slip parts it in two
        assert one.last + rows.start >= np.searchsorted(whole.minutes, begin)

    def test_a_year_takes_less_than_a_second(self) -> None:
        whole = year("T1", 101)
        begin = process_time()
        whole.copied()
        whole.stuck()
        assert process_time() - begin < 1
