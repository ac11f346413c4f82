"""Strange only together: days of means made by hand, on meters that usually go together."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from health.rules.channels import Channel, MeterFacts, channels_of
from health.rules.episode import Episode
from health.rules.events import Event
from health.rules.memory import Day, Memory, begun_anew, blank_day
from health.rules.pattern import FACTOR, LATE_DAYS, judge_pattern, middle_days, signal_of
from health.rules.sheets import Sheets

Numbers = npt.NDArray[np.float64]
METERS = [
    MeterFacts(key, code, quantity)
    for key, code, quantity in (
        (1, "v1_anode_current", "anode_current"),
        (2, "v2_anode_current", "anode_current"),
        (3, "ht_voltage", "ht_voltage"),
        (4, "forward_power", "forward_power"),
    )
]
CHANNELS = channels_of(METERS)
DAYS = 60
APART, USUAL = (2.2, -2.2, 0.0, 0.0), (0.0, 0.0, 0.0, 0.0)
"""In sigmas of the baselines: nobody is beyond 2.5, where a shift stands from 2.75 on."""


def of_days(last: Sequence[float], days: int = 4, seed: int = 3) -> Numbers:
    """Two months in which the anode currents go together, and some days at ``last``."""
    rng = np.random.default_rng(seed)
    common = rng.normal(size=(DAYS, 1))
    rows = np.hstack([0.9 * common.repeat(2, axis=1), 0.0 * common.repeat(2, axis=1)])
    rows += rng.normal(scale=0.3, size=rows.shape)
    rows[-days:] = last
    return rows


def day_of(number: int, row: Numbers) -> Day:
    count = np.where(np.isnan(row), 0.0, 5.0)
    return replace(blank_day(number, number, row.size), total=np.nan_to_num(row) * 5, count=count)


def memory_of(rows: Numbers, channels: tuple[Channel, ...] = CHANNELS) -> Memory:
    days = [
        replace(day_of(1000 + number, row), reach=np.full(row.size, 2.75))
        for number, row in enumerate(rows)
    ]
    return Memory(channels, days=tuple(days))


SHEETS = Sheets(
    minute=np.array([1440 * 1060 - 60]),
    no=np.array([77]),
    **dict.fromkeys(
        [name for name in Sheets.__dataclass_fields__ if name not in ("minute", "no")], None
    ),
)


def raised(rows: Numbers, standing: Sequence[Episode] = ()) -> list[Episode]:
    return judge_pattern(memory_of(rows), SHEETS, standing)[0]


def standing_flag(rule: str, meter_id: int, channel: str) -> Episode:
    return Episode(rule, meter_id, 5, 1440 * 1050, None, "low", {"channel": channel})


class TestRaises:
    def test_usual_days_raise_nothing(self) -> None:
        for seed in range(5):
            assert raised(of_days(USUAL, seed=seed)) == []

    def test_strange_together_though_each_is_in_band(self) -> None:
        """The two tubes usually go together; now they part, each by less than 2.5 sigma."""
        (flag,) = raised(of_days(APART))
        assert flag.rule == "pattern"
        assert flag.meter_id in (1, 2)
        assert (flag.first_no, flag.since, flag.until) == (77, 1440 * 1060 - 60, None)
        assert flag.evidence["size"] >= flag.evidence["limit"]

    def test_says_which_meters_carry_it(self) -> None:
        (flag,) = raised(of_days(APART))
        carried = {one["channel"]: one for one in flag.evidence["carried"]}
        assert set(carried) == {"v1_anode_current", "v2_anode_current"}
        assert sum(one["share"] for one in carried.values()) > 0.9
        assert carried["v1_anode_current"]["mean"] == pytest.approx(2.2, abs=0.5)
        assert carried["v2_anode_current"]["mean"] == pytest.approx(-2.2, abs=0.5)

    def test_the_same_distances_on_meters_that_go_together_raise_nothing(self) -> None:
        """Both tubes 1.8 sigma up: twice the sigma of what moves them in common."""
        together = 1.8, 1.8, 0.0, 0.0
        assert raised(of_days(together)) == []

    @pytest.mark.parametrize("column", [2, 3])
    def test_meter_alone_that_far_raises_nothing(self, column: int) -> None:
        """A lone meter that is 1.8 sigma away is the shift's business, and no flag of it."""
        last = np.zeros(4)
        last[column] = 1.8
        assert raised(of_days(last)) == []

    def test_one_day_alone_raises_nothing(self) -> None:
        assert raised(of_days(APART, days=1)) == []


class TestMissing:
    def test_channel_that_is_never_read_changes_nothing(self) -> None:
        rows = of_days(APART)
        rows[:, 2] = np.nan
        (flag,) = raised(rows)
        assert flag.meter_id in (1, 2)

    def test_days_without_a_value_are_no_zeros(self) -> None:
        """Both stand at two sigmas for two months: every third day unread would part them, were it
        taken for zero."""
        rows = of_days(USUAL)
        rows[:, :2] += 2.0
        rows[::3, 0] = np.nan
        assert raised(rows) == []

    def test_meter_no_longer_read_says_nothing(self) -> None:
        rows = of_days(APART, days=8)
        rows[-4:, 0] = np.nan
        signal = signal_of(memory_of(rows))
        assert signal is not None
        assert 0 not in signal.columns

    def test_too_few_days_have_no_chart(self) -> None:
        assert signal_of(memory_of(of_days(APART)[-29 - LATE_DAYS :])) is None
        assert signal_of(Memory(CHANNELS)) is None


class TestMiddleDay:
    """Of (0, 0), (4, 4), (1, 1), (1, 2): by hand the sums of the mean squares to the other two."""

    def test_day_that_stands_alone_is_left_out(self) -> None:
        """Of the third day 1 + 9 = 10, of the first 1 + 16, of the second 16 + 9: the third. Of
        the last 0.5 + 6.5, of the third 9 + 0.5, of the second 9 + 6.5: the last."""
        rows = np.array([[0.0, 0.0], [4.0, 4.0], [1.0, 1.0], [1.0, 2.0]])
        assert middle_days(rows)[2:].tolist() == [[1.0, 1.0], [1.0, 2.0]]

    def test_what_a_day_says_together_stays_together(self) -> None:
        """Medians by column would give (0, 0), which no day said."""
        rows = np.array([[-1.0, 1.0], [0.0, 0.0], [5.0, -5.0]])
        found = middle_days(rows)[2].tolist()
        assert found in rows.tolist()
        assert found == [0.0, 0.0]

    def test_day_that_says_nothing_is_not_taken(self) -> None:
        rows = np.array([[1.0], [np.nan], [2.0], [np.nan], [np.nan]])
        assert middle_days(rows)[2:4].tolist() == [[2.0], [2.0]]


class TestEvents:
    def test_it_is_learned_anew_of_a_changed_tube(self) -> None:
        """The two tubes part because one is new: no flag before its days are known again."""
        memory = memory_of(of_days(APART, days=20))
        event = Event(1040, frozenset({"v1_anode_current"}))
        known = begun_anew(replace(memory, days=memory.days[:40]), [event])
        after = replace(known, days=(*known.days, *memory.days[40:]))
        assert judge_pattern(after, SHEETS, [])[0] == []
        signal = signal_of(after)
        assert signal is not None
        assert 0 not in signal.columns

    def test_instrument_of_another_meter_leaves_it(self) -> None:
        event = Event(1055, frozenset({"ht_voltage"}))
        after = begun_anew(memory_of(of_days(APART)), [event])
        assert len(judge_pattern(after, SHEETS, [])[0]) == 1


class TestStanding:
    def test_it_stands_until_the_chart_is_back(self) -> None:
        changed, stands = judge_pattern(memory_of(of_days(APART)), SHEETS, [])
        assert changed == stands
        assert judge_pattern(memory_of(of_days(APART)), SHEETS, stands) == ([], stands)
        (ended,), none = judge_pattern(memory_of(of_days(USUAL, days=8)), SHEETS, stands)
        assert (none, ended.until) == ([], SHEETS.minute[0])
        assert ended.key == stands[0].key

    def test_it_stands_while_nothing_is_said(self) -> None:
        stands = raised(of_days(APART))
        assert judge_pattern(Memory(CHANNELS), SHEETS, stands) == ([], stands)

    @pytest.mark.parametrize("rule", ["shift", "departure", "pair-shift"])
    def test_flag_of_a_carrying_meter_is_enough(self, rule: str) -> None:
        standing = [standing_flag(rule, 2, "v2_anode_current")]
        assert raised(of_days(APART), standing) == []

    @pytest.mark.parametrize(
        ("rule", "meter_id", "channel"),
        [("shift", 3, "ht_voltage"), ("limit-high", 1, ""), ("stuck", 1, "")],
    )
    def test_other_flags_do_not_silence_it(self, rule: str, meter_id: int, channel: str) -> None:
        assert len(raised(of_days(APART), [standing_flag(rule, meter_id, channel)])) == 1


class TestLimit:
    def test_is_not_below_what_chance_makes(self) -> None:
        """Chi square of four that one of 50 days passes is 11.67; FACTOR times that."""
        signal = signal_of(memory_of(np.zeros((DAYS, 4))))
        assert signal is not None
        assert signal.limit == pytest.approx(FACTOR * 11.67, rel=0.01)
        assert signal.statistic == 0.0
