"""Judging a day of readings by what is expected: departures at once, shifts when it ends. Pure.

A **departure**: a reading, read twice or twice in a row, far from its baseline and from where it
stood of late. A **shift**: the mean of some days away from the baseline. Both end when they are
back by a part of what raised them.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from health.rules.channels import Channel
from health.rules.episode import Episode
from health.rules.memory import Day, Expectation, Memory, baselines_at, place_at
from health.rules.sheets import Sheets
from health.rules.slips import common_ratio

Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]

DEPARTURE, SHIFT = "departure", "shift"
BY_EXPECTATION = (DEPARTURE, SHIFT)
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


def judge_day(memory: Memory, sheets: Sheets, standing: Sequence[Episode]) -> Judged:
    """Judge a day's rounds.

    Parameters
    ----------
    memory : Memory
        Of the days before.
    sheets : Sheets
        Of one day.
    standing : sequence of Episode
        The departures that stood at its begin.

    Returns
    -------
    Judged
    """
    known = known_of_rounds(memory, sheets)
    values = np.where(sheets.is_settling[:, None] & of(memory, "is_slow"), np.nan, sheets.values)
    values[has_one_cause(memory, known, values)] = np.nan
    size = sizes(known, values, memory.last)
    # A test is taken on purpose, and read again when it is asked about: it need not repeat.
    is_sure = sheets.is_confirmed | repeats(size) | of(memory, "is_test")
    begins = (np.abs(size) >= 1) & is_sure & of(memory, "is_judged")
    flags = Standing(memory.channels, DEPARTURE, standing)
    for row in range(sheets.minute.size):

        def evidence(column: int, row: int = row) -> dict[str, Any]:
            return {
                "value": values[row, column],
                "centre": known.centre[row, column],
                "sigma": known.total[row, column],
                "far": memory.last.far[column],
            }

        flags.move(sheets, row, size[row], begins[row], evidence)
    return Judged(tuple(flags.changed.values()), tuple(flags.open.values()), values)


def of(memory: Memory, name: str) -> Marks:
    """A yes or no of each channel."""
    return np.array([getattr(one, name) for one in memory.channels], dtype=bool)


def known_of_rounds(memory: Memory, sheets: Sheets) -> Expectation:
    """The baselines of every round, rounds x channels."""
    found = [baselines_at(memory, place_at(sheets, row)) for row in range(sheets.minute.size)]
    return Expectation(
        np.array([one.centre for one in found]),
        np.array([one.between for one in found]),
        np.array([one.within for one in found]),
    )


def has_one_cause(memory: Memory, known: Expectation, values: Numbers) -> Marks:
    """Rounds in which all that goes with the power stands at one ratio to what it should be: the
    power, the wave or the state was changed and not written. That is one question, and no flag."""
    should_be = known.centre + memory.last.recent * known.total
    goes = of(memory, "goes_with_power") & (should_be > 0)
    ratio = np.where(goes, values / np.where(goes, should_be, 1.0), np.nan)
    return np.array([common_ratio(row[~np.isnan(row)]) is not None for row in ratio], dtype=bool)


def sizes(known: Expectation, values: Numbers, last: Day) -> Numbers:
    """How far each value lies from its baseline, and from where it stood of late: the nearer of
    the two, in parts of what a departure wants; 0 between the two."""
    sigmas = (values - known.centre) / known.total
    later = sigmas - last.recent
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

    def evidence(column: int) -> dict[str, Any]:
        return {"shift": day.shift[column], "reach": day.reach[column]}

    flags.move(
        sheets,
        sheets.minute.size - 1,
        size,
        (np.abs(size) >= 1) & of(memory, "is_judged"),
        evidence,
    )
    return list(flags.changed.values()), list(flags.open.values())


class Standing:
    """The flags of one kind that stand, by rule and meter: the channels of one meter (programme,
    weather) are one flag. ``changed``: those that began or ended, as they are now."""

    def __init__(self, channels: Sequence[Channel], kind: str, standing: Sequence[Episode]) -> None:
        self.channels = channels
        self.groups = [(rule_of(one, kind), one.meter_id) for one in channels]
        self.open: dict[Group, Episode] = {(one.rule, one.meter_id): one for one in standing}
        self.changed: dict[Key, Episode] = {}

    def move(
        self,
        sheets: Sheets,
        row: int,
        size: Numbers,
        begins: Marks,
        evidence: Callable[[int], Mapping[str, Any]],
    ) -> None:
        """Begin and end flags at a round; the furthest channel of a meter is its evidence."""
        for group in [group for group in self.open if self.is_back(group, size)]:
            ended = replace(self.open.pop(group), until=int(sheets.minute[row]))
            self.changed[ended.key] = ended
        columns = np.flatnonzero(begins)
        for column in columns[np.argsort(-np.abs(size[columns]))]:
            rule, meter_id = self.groups[column]
            if (rule, meter_id) not in self.open:
                begun = Episode(
                    rule=rule,
                    meter_id=meter_id,
                    first_no=int(sheets.no[row]),
                    since=int(sheets.minute[row]),
                    until=None,
                    priority=PRIORITY,
                    evidence={"channel": self.channels[column].key, **tidy(evidence(column))},
                )
                self.open[rule, meter_id] = begun
                self.changed[begun.key] = begun

    def is_back(self, group: Group, size: Numbers) -> bool:
        """Whether something was said of a flag, and all of it is back."""
        own = [size[column] for column, other in enumerate(self.groups) if other == group]
        said = [abs(one) for one in own if not np.isnan(one)]
        return bool(said) and max(said) < BACK


def rule_of(channel: Channel, kind: str) -> str:
    """'departure', 'shift', or with the relation's name before it: 'pair-shift'."""
    return f"{channel.relation}-{kind}" if channel.relation else kind


def tidy(evidence: Mapping[str, Any]) -> dict[str, float]:
    return {name: round(float(one), 6) for name, one in evidence.items()}
