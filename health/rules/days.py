"""Judging a day of readings by what is expected: departures at once, shifts when it ends. Pure.

A **departure**: a reading, read twice or twice in a row, far from where it usually stands beside
its baseline, and from where it stood of late. A **shift**: the mean of some days away from where it
usually stands. Both end when they are
back by a part of what raised them. **Beyond**: meters that must agree differ by more than their
errors explain, whatever the baseline says.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from health.rules.absolute import differences
from health.rules.channels import Channel, MeterFacts
from health.rules.episode import Episode
from health.rules.levels import medians
from health.rules.memory import Day, Expectation, Memory, known_of_rounds
from health.rules.sheets import Sheets, columns_of
from health.rules.slips import NEAR_ONE, common_ratio

Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]

DEPARTURE, SHIFT, BEYOND = "departure", "shift", "beyond"
"""How the names of these rules end."""
BACK = 0.6
"""The part of what raised it below which a value is back: common practice, no source."""
PRIORITY = "low"
Group = tuple[str, int]
Key = tuple[str, int, int]


@dataclass(frozen=True)
class Judged:
    """What a day gave: episodes that began or ended in it, those that stand after it, and the
    values that are learned of (NaN: settling, or one cause that is asked about)."""

    episodes: tuple[Episode, ...]
    standing: tuple[Episode, ...]
    values: Numbers


def judge_day(
    memory: Memory, sheets: Sheets, meters: Mapping[int, MeterFacts], standing: Sequence[Episode]
) -> Judged:
    """Judge a day's rounds.

    Parameters
    ----------
    memory : Memory
        Of the days before.
    sheets : Sheets
        Of one day.
    meters : mapping of int to MeterFacts
    standing : sequence of Episode
        What stood at its begin; other kinds are left out.

    Returns
    -------
    Judged
    """
    known = known_of_rounds(memory, sheets)
    values = np.where(sheets.is_settling[:, None] & memory.marks("is_slow"), np.nan, sheets.values)
    values[has_one_cause(memory, known, values)] = np.nan
    values[np.ix_(is_idle(memory, values), memory.marks("heeds_the_point"))] = np.nan
    size = sizes(known, values, memory.last)
    # A test is taken on purpose, and read again when it is asked about: it need not repeat.
    is_sure = sheets.is_confirmed | repeats(size) | memory.marks("is_test")
    departed = Standing(memory.channels, DEPARTURE, standing)
    departed.move_all(
        sheets,
        size,
        is_sure & memory.marks("is_judged"),
        {
            "value": values,
            "centre": known.centre,
            "sigma": known.total,
            "usual": np.broadcast_to(memory.last.usual, values.shape),
            "far": np.broadcast_to(memory.last.far, values.shape),
        },
    )
    found, allowed = differences(columns_of(sheets.by_meter), meters, memory.channels)
    size = np.where(sheets.says, found / allowed, np.nan)
    beyond = Standing(memory.channels, BEYOND, standing)
    is_sure = sheets.is_confirmed | repeats(size)
    beyond.move_all(sheets, size, is_sure, {"value": found, "allowed": allowed})
    return Judged(
        (*departed.changed.values(), *beyond.changed.values()),
        (*departed.open.values(), *beyond.open.values()),
        values,
    )


def has_one_cause(memory: Memory, known: Expectation, values: Numbers) -> Marks:
    """Rounds in which all that goes with the power stands at one ratio to what it should be: the
    power, the wave or the state was changed and not written. That is one question, and no flag."""
    should_be = known.centre + memory.last.recent * known.total
    goes = memory.marks("goes_with_power") & (should_be > 0)
    ratio = np.where(goes, values / np.where(goes, should_be, 1.0), np.nan)
    found = np.zeros(len(ratio), dtype=bool)
    for row in np.flatnonzero(np.abs(medians(ratio[:, :, None])[:, 0] - 1) > NEAR_ONE):
        found[row] = common_ratio(ratio[row, ~np.isnan(ratio[row])]) is not None
    return found


def is_idle(memory: Memory, values: Numbers) -> Marks:
    """Rounds that say nothing of what goes with the power, as one that found the set tripped: in
    them heat and mains power say nothing either."""
    goes = memory.marks("goes_with_power")
    return np.asarray(np.isnan(values[:, goes]).all(axis=1) & goes.any())


def sizes(known: Expectation, values: Numbers, last: Day) -> Numbers:
    """How far each value lies from where it usually stands, and from where it stood of late: the
    nearer of the two, in parts of what a departure wants; 0 between the two."""
    from_baseline = (values - known.centre) / known.total
    sigmas, later = from_baseline - last.usual, from_baseline - last.recent
    nearer = np.where(np.abs(later) < np.abs(sigmas), later, sigmas)
    return np.asarray(np.where(sigmas * later < 0, 0.0, nearer) / last.far)


def repeats(size: Numbers) -> Marks:
    """Which values are as far, and the same way, as the one read before them this day."""
    found = np.zeros(size.shape, dtype=bool)
    before = np.zeros(size.shape[1])
    for row, now in enumerate(size):
        found[row] = np.sign(now) * before >= 1
        before = np.where(np.isnan(now), before, now)
    return found


def judge_shifts(
    memory: Memory, sheets: Sheets, standing: Sequence[Episode]
) -> tuple[list[Episode], list[Episode]]:
    """The shifts at the end of a day: those that began or ended, and those that stand.

    ``memory`` is that after the day, ``sheets`` its rounds.
    """
    day = memory.last
    size = day.shift / day.reach
    flags = Standing(memory.channels, SHIFT, standing)
    begins = (np.abs(size) >= 1) & memory.marks("is_judged") & memory.marks("is_steady")
    evidence = {"shift": day.shift, "usual": day.usual, "reach": day.reach}
    flags.move(sheets, sheets.minute.size - 1, size, begins, evidence)
    return list(flags.changed.values()), list(flags.open.values())


class Standing:
    """The flags of one kind that stand, by rule and meter: the channels of one meter (programme,
    weather) are one flag. ``changed``: those that began or ended, as they are now."""

    def __init__(self, channels: Sequence[Channel], kind: str, standing: Sequence[Episode]) -> None:
        self.channels = channels
        self.groups = [(rule_of(one, kind), one.meter_id) for one in channels]
        self.columns: dict[Group, list[int]] = {}
        for column, group in enumerate(self.groups):
            self.columns.setdefault(group, []).append(column)
        self.open: dict[Group, Episode] = {
            (one.rule, one.meter_id): one for one in standing if one.rule.endswith(kind)
        }
        self.changed: dict[Key, Episode] = {}

    def move_all(
        self, sheets: Sheets, size: Numbers, is_sure: Marks, evidence: Mapping[str, Numbers]
    ) -> None:
        """Begin and end flags at every round of a day, one after the other."""
        begins = (np.abs(size) >= 1) & is_sure
        has_any = np.asarray(begins.any(axis=1))
        for row in range(sheets.minute.size):
            if has_any[row] or self.open:
                of_row = {name: table[row] for name, table in evidence.items()}
                self.move(sheets, row, size[row], begins[row], of_row)

    def move(
        self,
        sheets: Sheets,
        row: int,
        size: Numbers,
        begins: Marks,
        evidence: Mapping[str, Numbers],
    ) -> None:
        """Begin and end flags at a round; the furthest channel of a meter is its evidence."""
        for group in [group for group in self.open if self.is_back(group, size)]:
            ended = replace(self.open.pop(group), until=int(sheets.minute[row]))
            self.changed[ended.key] = ended
        columns = np.flatnonzero(begins)
        for column in columns[np.argsort(-np.abs(size[columns]))]:
            rule, meter_id = self.groups[column]
            if (rule, meter_id) not in self.open:
                facts = {name: round(float(one[column]), 6) for name, one in evidence.items()}
                begun = Episode(
                    rule=rule,
                    meter_id=meter_id,
                    first_no=int(sheets.no[row]),
                    since=int(sheets.minute[row]),
                    until=None,
                    priority=PRIORITY,
                    evidence={"channel": self.channels[column].key, **facts},
                )
                self.open[rule, meter_id] = begun
                self.changed[begun.key] = begun

    def is_back(self, group: Group, size: Numbers) -> bool:
        """Whether something was said of a flag, and all of it is back."""
        own = np.abs(size[self.columns.get(group, [])])
        said = own[~np.isnan(own)]
        return bool(said.size) and bool(said.max() < BACK)


def rule_of(channel: Channel, kind: str) -> str:
    """'departure', 'shift', or with the relation's name before it: 'pair-shift'."""
    return f"{channel.relation}-{kind}" if channel.relation else kind
