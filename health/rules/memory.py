"""What the judge remembers of a transmitter, and what it wants before anything is a flag. Pure.

Everything is kept by day, so that what was remembered at the begin of any day can be had again: a
correction that comes late is judged as if it had come in time. How a day that has ended is added
stands in ``health.rules.learning``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from health.rules.baselines import Baseline, Point
from health.rules.channels import Channel
from health.rules.events import Event
from health.rules.sheets import Sheets

Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
Key = tuple[str, str]

SHIFT_DAYS, SELDOM_DAYS = 3, 21
"""A shift is the mean of so many days; of what is not read in each round, of more."""
UNSEEN_DAYS = 60
"""What a channel does by itself is known from all days but the newest: a drift of two months must
not hide itself."""
FEWEST_LEVELS, FEWEST_RUNS = 3, 3
SHIFT_SIGMAS, DEPARTURE_SIGMAS, FEW_RUNS_MORE = 2.75, 4.8, 1.5
OF_OWN_SHIFT, OF_OWN_DAYS = 2.7, 6.0
"""Sigmas from which a shift and a departure stand, how many more where fewer than FEWEST_RUNS runs
speak, and how many times what the channel does by itself. Found on generated histories whose seeds
are in no benchmark: no other source."""
QUIET_SIGMAS, OF_QUIET, QUIET_DAYS, WIDER_OF_FEW = 0.25, 3.4, 20, 2.5
"""A channel whose shifts are known of so many days wants no more than this, and so many times what
it does by itself, where that is less; the part more is this over the shifts that do not overlap:
found in the same way."""
TEST_SIGMAS, SEASON_SIGMAS = 3.0, 3.25
"""What a departure of a weekly test wants, and a shift of what the season moves: found alike."""
USUAL_SHRUNK_BY = 10
"""As if so many shifts had stood at the baseline as well: own choice."""
RISE_DAYS = 14
"""Within so many days the rise of what climbs by itself is looked at: own choice."""
WIDEST = 60.0
ONE_LEVEL_OF_REACH = 0.6 * FEWEST_LEVELS
"""How far one level counts at most, in parts of what a shift wants: one alone raises none."""
SCATTER_DAYS, SCATTER_LEVELS, SCATTER_RANGE = 60, 12, (0.6, 3.0)
SHRUNK_BY, SHRUNK_BY_IF_IT_GOES_ON = 1.5, 0.3
"""As if so many levels of no residual had been read as well: common practice, no source."""


@dataclass(frozen=True)
class Day:
    """One day of every channel, in sigmas of the baselines; arrays by channel.

    Attributes
    ----------
    day : its number from 1970 UTC
    run : the entry that began its last run
    total, squares, count, runs : sum of the levels' residuals, of their squares about what was
        expected that morning, how many levels, and how many runs that began
    usual : where the channel stands by itself, and is to be counted from
    shift : mean residual of the last days from there, 0 where too few speak
    recent : what to add to the baseline in the days that follow
    scatter : the residuals' own sigma, 1 where it is not known
    reach, far : the sizes from which a shift and a departure stand
    offset : mean residual in the channel's unit, NaN without one
    shift_total, shift_squares, shifts, mean_total, mean_squares, means : of all days so far, the
        means of the last days and those of the days, both from the baseline, summed and squared,
        and how many there were
    """

    day: int
    run: int
    total: Numbers
    squares: Numbers
    count: Numbers
    runs: Numbers
    usual: Numbers
    shift: Numbers
    recent: Numbers
    scatter: Numbers
    reach: Numbers
    far: Numbers
    offset: Numbers
    shift_total: Numbers
    shift_squares: Numbers
    shifts: Numbers
    mean_total: Numbers
    mean_squares: Numbers
    means: Numbers


COLUMNS = tuple(name for name in Day.__dataclass_fields__ if name not in ("day", "run"))


SUMMED = tuple(name for name in COLUMNS if name not in ("scatter", "reach", "far", "offset"))


@dataclass(frozen=True)
class Memory:
    """Baselines and their points by channel and place, and the last days in order."""

    channels: tuple[Channel, ...]
    baselines: Mapping[Key, Baseline] = field(default_factory=dict)
    points: Mapping[Key, tuple[Point, ...]] = field(default_factory=dict)
    days: tuple[Day, ...] = ()
    found: dict[tuple[str, ...], "Expectation"] = field(default_factory=dict, compare=False)
    """What ``baselines_at`` has found, while the baselines are these."""

    @property
    def last(self) -> Day:
        """The newest day; of an empty memory one that knows nothing."""
        return self.days[-1] if self.days else blank_day(-1, -1, len(self.channels))

    def marks(self, name: str) -> Marks:
        """A yes or no of each channel."""
        return np.array([getattr(one, name) for one in self.channels], dtype=bool)


def blank_day(day: int, run: int, channels: int) -> Day:
    nothing, one = np.zeros(channels), np.ones(channels)
    return Day(
        day=day,
        run=run,
        **dict.fromkeys(SUMMED, nothing),
        scatter=one,
        reach=one * (SHIFT_SIGMAS + FEW_RUNS_MORE),
        far=one * (DEPARTURE_SIGMAS + FEW_RUNS_MORE),
        offset=nothing * np.nan,
    )


def with_channels(memory: Memory, channels: tuple[Channel, ...]) -> Memory:
    """The same memory for other channels: an instrument was changed, or a meter was added."""
    if channels is memory.channels:
        return memory
    known = {one.key: column for column, one in enumerate(memory.channels)}
    column = np.array([known.get(one.key, -1) for one in channels])
    days = tuple(aligned(day, column) for day in memory.days)
    return replace(memory, channels=channels, days=days, found={})


def aligned(day: Day, column: npt.NDArray[np.int64]) -> Day:
    """A day with its channels in another order; -1 is a new one."""
    blank = blank_day(day.day, day.run, column.size)
    table = {
        name: np.where(column >= 0, getattr(day, name)[column], getattr(blank, name))
        for name in COLUMNS
    }
    return Day(day.day, day.run, **table)


def begun_anew(memory: Memory, events: Sequence[Event]) -> Memory:
    """Forget the baselines that events began anew; an event everywhere takes the days with it."""
    if not events:
        return memory

    def is_kept(key: Key) -> bool:
        return not any(one.touches(*key) for one in events)

    gone = {key for one in events if not one.at for key in one.keys}
    counts = np.array([one.key not in gone for one in memory.channels])
    return replace(
        memory,
        baselines={key: one for key, one in memory.baselines.items() if is_kept(key)},
        points={key: one for key, one in memory.points.items() if is_kept(key)},
        found={},
        days=tuple(without(day, counts) for day in memory.days),
    )


def without(day: Day, is_kept: Marks) -> Day:
    """A day in which the residuals of some channels do not count; their own wander does."""
    gone = ("total", "squares", "count", "runs", "recent", "usual", "shift_total", "mean_total")
    columns: dict[str, Any] = {name: np.where(is_kept, getattr(day, name), 0.0) for name in gone}
    by_itself, by_day = wander(day, day.usual)
    columns["shift_squares"] = np.where(is_kept, day.shift_squares, by_itself**2 * day.shifts)
    columns["mean_squares"] = np.where(is_kept, day.mean_squares, by_day**2 * day.means)
    return replace(day, **columns)


def place_at(sheets: Sheets, row: int) -> dict[str, str]:
    return {name: str(words[row]) for name, words in sheets.places.items()}


@dataclass(frozen=True)
class Expectation:
    """By channel at one place: the baseline's centre and scatters, NaN where there is none."""

    centre: Numbers
    between: Numbers
    within: Numbers

    @property
    def total(self) -> Numbers:
        return np.hypot(self.between, self.within)


def baselines_at(memory: Memory, place: Mapping[str, str]) -> Expectation:
    """The baselines of every channel at one operating point."""
    key = tuple(place.values())
    if key not in memory.found:
        memory.found[key] = looked_up(memory, place)
    return memory.found[key]


def looked_up(memory: Memory, place: Mapping[str, str]) -> Expectation:
    found = np.full((3, len(memory.channels)), np.nan)
    for column, one in enumerate(memory.channels):
        known = memory.baselines.get((one.key, place[one.heeds]))
        if known is not None:
            found[:, column] = known.centre, known.between, known.within
    return Expectation(*found)


def known_of_rounds(memory: Memory, sheets: Sheets) -> Expectation:
    """The baselines of every round, rounds x channels."""
    found = [baselines_at(memory, place_at(sheets, row)) for row in range(sheets.minute.size)]
    return Expectation(
        np.array([one.centre for one in found]),
        np.array([one.between for one in found]),
        np.array([one.within for one in found]),
    )


def sigmas_of_rounds(memory: Memory, sheets: Sheets) -> Numbers:
    """Where each value of some rounds stands, in sigmas of its baseline, at most WIDEST."""
    known = known_of_rounds(memory, sheets)
    return np.clip((sheets.values - known.centre) / known.total, -WIDEST, WIDEST)


def risen_before(memory: Memory, day: int) -> Numbers:
    """Of channels that climb by themselves the mean of the days before the last RISE_DAYS: from
    there their shifts are counted. 0 for the others; where nothing is known of then, inf."""
    sums = Sums(memory.days, day - RISE_DAYS - SHIFT_DAYS, day - RISE_DAYS)
    return np.where(memory.marks("climbs"), mean_of(sums.total, sums.count, np.inf), 0.0)


def stood_before(memory: Memory, day: int, usual: Numbers) -> Numbers:
    """From where the levels of a day are told to move: where a channel usually stands, or has
    risen to by itself."""
    return usual + np.nan_to_num(risen_before(memory, day), posinf=0.0)


def held(sigmas: Numbers, about: Numbers, reach: Numbers) -> Numbers:
    """Sigmas within what one level counts at most about a place."""
    most = ONE_LEVEL_OF_REACH * reach
    return np.clip(sigmas, about - most, about + most)


class Sums:
    """Sums over the days after < day <= until, by channel."""

    def __init__(self, days: Sequence[Day], after: int, until: float = np.inf) -> None:
        within = [one for one in days if after < one.day <= until]
        self.total, self.squares, self.count, self.runs = (
            np.sum([getattr(one, name) for one in within], axis=0)
            for name in ("total", "squares", "count", "runs")
        )


def of_own_days(memory: Memory, days: Sequence[Day], day: int) -> dict[str, Numbers]:
    """Sums over the days of which each channel's shift is the mean."""
    soon, late = (Sums(days, day - length) for length in (SHIFT_DAYS, SELDOM_DAYS))
    is_soon = memory.marks("is_each_round")
    return {
        name: np.where(is_soon, getattr(soon, name), getattr(late, name))
        for name in ("total", "count", "runs")
    }


def newest_mean(days: Sequence[Day], day: int) -> Numbers:
    """Mean of the levels of the last SHIFT_DAYS, in which a day counts the more the newer it is;
    NaN where there are none."""
    within = [(one, SHIFT_DAYS - (day - one.day)) for one in days if one.day > day - SHIFT_DAYS]
    total, count = (
        np.sum([weight * getattr(one, name) for one, weight in within], axis=0)
        for name in ("total", "count")
    )
    return mean_of(total, count, np.nan)


def mean_of(total: Numbers, count: Numbers, otherwise: float) -> Numbers:
    return np.where(count > 0, total / np.where(count > 0, count, 1.0), otherwise)


def wander(day: Day, usual: Numbers) -> tuple[Numbers, Numbers]:
    """Root mean square, about where a channel stands by itself, of all shifts up to a day and of
    the days' means; 0 where there are none."""
    sums = (
        (day.shift_total, day.shift_squares, day.shifts),
        (day.mean_total, day.mean_squares, day.means),
    )
    by_shifts, by_means = (
        mean_of(squares - 2 * usual * total + count * usual**2, count, 0.0)
        for total, squares, count in sums
    )
    # What cancels may leave a little less than nothing.
    return np.sqrt(np.maximum(by_shifts, 0.0)), np.sqrt(np.maximum(by_means, 0.0))


def known_before(memory: Memory, day: int) -> Day:
    """The newest day that is no news any more: in the beginning half of the days are."""
    unseen = min(UNSEEN_DAYS, memory.last.means.max(initial=0.0) / 2)
    seen = [one for one in memory.days if one.day <= day - unseen]
    return seen[-1] if seen else blank_day(-1, -1, len(memory.channels))
