"""Going through the rounds of a day: what each reading should be when it is typed. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from health.rules.borrowing import expectation_at
from health.rules.channels import Channel
from health.rules.expected import LAST_OF_RUN, Ahead, ahead, expected, is_believed
from health.rules.memory import Expectation, Memory, place_at
from health.rules.sheets import Sheets

Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Look:
    """One round before it is read: arrays by channel, NaN where there is no baseline."""

    row: int
    is_first_of_run: bool
    known: Expectation
    value: Numbers
    sigma: Numbers
    reach: Numbers

    def is_far(self, values: Numbers) -> Marks:
        """Which values are so far from what they should be that they are read again."""
        return np.abs(values - self.value) > self.reach


class SoFar:
    """The last believed readings of the run, and the reading before, of every channel."""

    def __init__(self, channels: Sequence[Channel]) -> None:
        self.heeds = np.array([one.heeds for one in channels], dtype=object)
        self.goes_on = np.array([one.goes_on for one in channels], dtype=bool)
        self.read = np.full((LAST_OF_RUN, len(channels)), np.nan)
        self.previous = np.full(len(channels), np.nan)

    def begin_run(self) -> None:
        self.forget(~self.goes_on)

    def move(self, moved: Sequence[str]) -> None:
        """Another power or weather within a run: what heeds it begins there anew."""
        self.forget(np.isin(self.heeds, moved))

    def forget(self, channels: Marks) -> None:
        self.read[:, channels] = np.nan
        self.previous[channels] = np.nan

    def add(self, before: Ahead, values: Numbers, is_confirmed: Marks) -> None:
        is_new = is_believed(before, values, is_confirmed, self.previous)
        self.read[:-1, is_new] = self.read[1:, is_new]
        self.read[-1, is_new] = values[is_new]
        self.previous = np.where(np.isnan(values), self.previous, values)


def looks(memory: Memory, sheets: Sheets) -> Iterator[Look]:
    """Each round of a day with what it should read.

    What stands in ``sheets`` when the next one is asked for is what is believed of it: who is
    asked may have put it right.
    """
    so_far = SoFar(memory.channels)
    steps = np.array([one.step for one in memory.channels])
    is_slow = memory.marks("is_slow")
    for row in range(sheets.minute.size):
        is_first = row == 0 or sheets.run[row] != sheets.run[row - 1]
        moved = moved_places(sheets, row)
        if is_first:
            so_far.begin_run()
        if moved:
            so_far.move(moved)
        if row == 0 or moved:
            known = expectation_at(memory, place_at(sheets, row))
            before = ahead(known, memory.last, steps)
        is_settling = is_slow & sheets.is_settling[row]
        value, sigma, reach = expected(before, so_far.read, is_settling=is_settling)
        yield Look(row, is_first, known, value, sigma, reach)
        settled = np.where(is_settling, np.nan, sheets.values[row])
        so_far.add(before, settled, sheets.is_confirmed[row])


def moved_places(sheets: Sheets, row: int) -> list[str]:
    """What of the operating point is another than in the round before: by what heeds it."""
    if row == 0:
        return []
    return [name for name, words in sheets.places.items() if words[row] != words[row - 1]]
