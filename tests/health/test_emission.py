"""What shows a tube's emission, joined into one statement; worked by hand."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from health.rules.emission import (
    Carrier,
    Emission,
    Evidence,
    Source,
    StepTest,
    Tones,
    judge_carrier,
    judge_steps,
    judge_tones,
    statement,
    tone_percent,
)

START = datetime(2026, 1, 7, 6, tzinfo=UTC)
WEEK = timedelta(weeks=1)


def tones(*currents: float, first_h: float = 5000.0) -> Tones:
    """One each week of 126 filament hours."""
    at = [START + WEEK * number for number in range(len(currents))]
    return Tones(at, first_h + 126.0 * np.arange(len(currents)), np.array(currents))


def step(hours: float, anode: float | None = 0.0, **over: float) -> StepTest:
    return StepTest(START + timedelta(hours=hours), hours, **{"lowered": 5.0, **over}, anode=anode)


def carrier(recent: float, slope: float = -4.0, *, is_pair: bool = False) -> Carrier:
    return Carrier(START, 12, recent, slope, is_told=True, is_pair=is_pair)


class TestTones:
    def test_baseline_is_the_median_of_the_first_four(self) -> None:
        """11.0, 11.0, 12.0, 11.2: median 11.1; 9.99 is 10 % under it."""
        assert tone_percent([11.0, 11.0, 12.0, 11.2, 9.99])[-1] == pytest.approx(-10.0)

    def test_steady_tone_is_enough(self) -> None:
        found = judge_tones(tones(*[11.0, 11.2] * 5), 6200.0)
        assert (found.code, found.says, found.n) == ("tone-steady", Emission.ENOUGH, 10)
        assert found.at == START + 9 * WEEK

    def test_seven_tones_are_too_few(self) -> None:
        assert judge_tones(tones(*[11.0] * 7), 6000.0).code == "few-tones"

    def test_fall_is_told_with_its_slope(self) -> None:
        """First four 100, then one less a week: level the median of 95, 94, 93 = -6 %. Pairs of
        the later ones fall by 1 in 126 h, that is 7.94 % per 1000 h."""
        found = judge_tones(tones(*[100] * 4, 99, 98, 97, 96, 95, 94, 93), 6400.0)
        assert (found.code, found.says) == ("tone-falling", Emission.FALLING)
        assert found.figures["level"] == pytest.approx(-6.0)
        assert found.figures["slope"] == pytest.approx(-7.937, abs=0.01)

    def test_eight_per_cent_short_is_weak(self) -> None:
        found = judge_tones(tones(*[100] * 8, 92, 92, 92), 6400.0)
        assert (found.code, found.says) == ("tone-weak", Emission.WEAK)

    def test_one_wrong_tone_says_nothing(self) -> None:
        assert judge_tones(tones(*[100] * 10, 80), 6400.0).says == Emission.ENOUGH

    def test_tone_of_long_ago_says_nothing_of_today(self) -> None:
        """The tenth is at 5000 + 9 x 126 = 6134 h; 7135 h is 1001 h later."""
        old = judge_tones(tones(*[11.0] * 10), 7135.0)
        assert (old.code, old.says) == ("tone-old", Emission.UNTOLD)
        assert judge_tones(tones(*[11.0] * 10), 7134.0).says == Emission.ENOUGH

    def test_without_a_meter_it_is_said(self) -> None:
        assert judge_tones(None, 0.0).code == "no-tone-meter"


@pytest.mark.need(85)
class TestSteps:
    @pytest.mark.parametrize(
        ("fall", "code", "says"),
        [
            (1.9, "step-steady", Emission.ENOUGH),
            (2.0, "step-falling", Emission.FALLING),
            (4.9, "step-falling", Emission.FALLING),
            (5.0, "step-weak", Emission.WEAK),
        ],
    )
    def test_fall_beside_the_five_per_cent(self, fall: float, code: str, says: str) -> None:
        found = judge_steps([step(6000.0, fall)], 6100.0)
        assert (found.code, found.says) == (code, says)

    def test_the_largest_of_the_three_falls_counts(self) -> None:
        assert judge_steps([step(6000.0, 0.5, grid=1.0, power=3.0)], 6100.0).figures["fall"] == 3.0

    def test_growth_is_the_median_slope_of_three(self) -> None:
        """0, 1 and 2 points at 5000, 5500 and 6000 h: 2 points per 1000 h."""
        found = judge_steps([step(5000.0, 0.0), step(5500.0, 1.0), step(6000.0, 2.0)], 6100.0)
        assert found.figures["slope"] == pytest.approx(2.0)
        assert "slope" not in judge_steps([step(5000.0, 0.0), step(6000.0, 2.0)], 6100.0).figures

    def test_older_than_a_thousand_hours_says_nothing_of_today(self) -> None:
        assert judge_steps([step(5000.0)], 6000.0).says == Emission.ENOUGH
        old = judge_steps([step(5000.0)], 6001.0)
        assert (old.code, old.says) == ("step-old", Emission.UNTOLD)

    def test_hardly_lowered_or_not_read_says_nothing(self) -> None:
        assert judge_steps([step(6000.0, lowered=2.0)], 6100.0).code == "step-small"
        assert judge_steps([step(6000.0, None)], 6100.0).code == "step-unread"
        assert judge_steps([], 6100.0).code == "no-step"


class TestCarrier:
    def test_steady_hourly_readings_tell_nothing(self) -> None:
        found = judge_carrier([carrier(-0.5, 0.1), carrier(-1.0, 0.1, is_pair=True)])
        assert (found.code, found.says) == ("carrier-steady", Emission.UNTOLD)

    def test_fall_against_the_pair_is_weak(self) -> None:
        found = judge_carrier([carrier(-1.0), carrier(-3.5, is_pair=True)])
        assert (found.code, found.says) == ("carrier-pair", Emission.WEAK)
        assert found.figures["recent"] == -3.5

    def test_both_of_a_pair_down_is_not_the_tube(self) -> None:
        found = judge_carrier([carrier(-4.0), carrier(0.2, is_pair=True)])
        assert (found.code, found.says) == ("carrier-both", Emission.UNTOLD)

    def test_without_a_pair_it_only_falls(self) -> None:
        assert judge_carrier([carrier(-4.0)]).says == Emission.FALLING

    def test_fall_that_chance_may_make_is_none(self) -> None:
        by_chance = replace(carrier(-4.0, is_pair=True), is_told=False)
        assert judge_carrier([by_chance]).says == Emission.UNTOLD


ENOUGH = Evidence(Source.STEP, "step-steady", Emission.ENOUGH, 1, START)
WEAK = Evidence(Source.CARRIER, "carrier-pair", Emission.WEAK, 12, START + WEEK)
BLIND = Evidence(Source.CARRIER, "carrier-steady", Emission.UNTOLD, 12, START + WEEK)


class TestStatement:
    def test_the_worst_counts_with_its_date(self) -> None:
        said = statement([ENOUGH, WEAK])
        assert (said.state, said.at) == (Emission.WEAK, START + WEEK)
        assert (said.check, said.is_inside) == ("plan-change", True)

    def test_what_can_see_counts_before_what_cannot(self) -> None:
        said = statement([BLIND, ENOUGH], [step(6000.0)])
        assert (said.state, said.at, said.check) == (Emission.ENOUGH, START, "test-later")
        assert said.due_h == (6500.0, 7000.0)

    def test_steady_hourly_readings_alone_have_no_date(self) -> None:
        said = statement([BLIND])
        assert (said.state, said.at, said.check) == (Emission.UNTOLD, None, "test-now")

    def test_contact_comes_before_the_tube(self) -> None:
        said = statement([ENOUGH, WEAK], has_heater_step=True)
        assert (said.check, said.is_inside) == ("contact", True)
