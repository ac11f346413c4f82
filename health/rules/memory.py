"""What the judge remembers of a transmitter, and how a day that has ended is added to it. Pure.

Everything is kept by day, so that what was remembered at the begin of any day can be had again: a
correction that comes late is judged as if it had come in time.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from health.rules.baselines import Baseline, Point, is_due, learned
from health.rules.channels import Channel
from health.rules.events import Event
from health.rules.levels import Levels, run_levels
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
OF_OWN_SHIFT, OF_OWN_DAYS = 3.15, 4.8
"""Sigmas from which a shift and a departure stand, how many more where fewer than FEWEST_RUNS runs
speak, and how many times what the channel does by itself. Found on generated histories whose seeds
are in no benchmark: no other source."""
QUIET_SIGMAS, OF_QUIET, QUIET_DAYS = 0.6, 4.2, 20
"""A channel whose shifts are known of so many days wants no more than this, and so many times what
it does by itself, where that is less: found in the same way."""
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
    shift : mean residual of the last days, 0 where too few speak
    recent : what to add to the baseline in the days that follow
    scatter : the residuals' own sigma, 1 where it is not known
    reach, far : the sizes from which a shift and a departure stand
    offset : mean residual in the channel's unit, NaN without one
    shift_squares, shifts, mean_squares, means : of all days so far, the squares of the shifts and
        of the days' means, and how many there were
    """

    day: int
    run: int
    total: Numbers
    squares: Numbers
    count: Numbers
    runs: Numbers
    shift: Numbers
    recent: Numbers
    scatter: Numbers
    reach: Numbers
    far: Numbers
    offset: Numbers
    shift_squares: Numbers
    shifts: Numbers
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
    gone = ("total", "squares", "count", "runs", "recent")
    columns: dict[str, Any] = {name: np.where(is_kept, getattr(day, name), 0.0) for name in gone}
    return replace(day, **columns)


def with_day(memory: Memory, day: int, sheets: Sheets, values: Numbers) -> Memory:
    """The memory after a day of readings.

    Parameters
    ----------
    memory : Memory
        Of all the days before.
    day : int
        Its number from 1970 UTC.
    sheets : Sheets
        The rounds of that day.
    values : ndarray [the channels' units]
        Rounds x channels, NaN what is not to be learned of.

    Returns
    -------
    Memory

    Notes
    -----
    A level is judged by the baselines of the days before, and then learned of.
    """
    levels = run_levels(sheets, values, np.array([one.step for one in memory.channels]))
    places = places_of(sheets, levels)
    days = still_needed((*memory.days, summed_day(memory, day, levels, places)))
    points, touched = with_points(memory, day, levels, places)
    memory = replace(memory, days=days, points=points)
    return with_baselines(memory, touched)


def still_needed(days: tuple[Day, ...]) -> tuple[Day, ...]:
    """The days of the last weeks, and the one before them for its sums of all days."""
    first = sum(one.day <= days[-1].day + 1 - UNSEEN_DAYS for one in days)
    return days[max(first - 1, 0) :]


Places = Sequence[Mapping[str, str]]


def places_of(sheets: Sheets, levels: Levels) -> Places:
    """The operating point of each run."""
    return [place_at(sheets, int(row)) for row in levels.first_row]


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


def summed_day(memory: Memory, day: int, levels: Levels, places: Places) -> Day:
    """What a day's levels say, with the days before."""
    known = [baselines_at(memory, place) for place in places]
    offset = levels.level - np.array([one.centre for one in known])
    sigmas = np.clip(offset / np.array([one.total for one in known]), -WIDEST, WIDEST)
    is_known = ~np.isnan(sigmas)
    count = is_known.sum(axis=0).astype(np.float64)
    before = memory.last
    most = ONE_LEVEL_OF_REACH * before.reach
    own = replace(
        blank_day(day, int(levels.run[-1]), count.size),
        total=np.where(is_known, np.clip(sigmas, -most, most), 0.0).sum(axis=0),
        squares=np.where(is_known, (sigmas - before.recent) ** 2, 0.0).sum(axis=0),
        count=count,
        runs=is_known[begins_run(levels, before.run)].sum(axis=0).astype(np.float64),
        offset=mean_of(np.where(is_known, offset, 0.0).sum(axis=0), count, np.nan),
    )
    return judged_day(memory, own, last_two(sigmas, before.recent))


def begins_run(levels: Levels, before: int) -> Marks:
    return np.asarray(np.diff(levels.run, prepend=before) != 0)


def judged_day(memory: Memory, own: Day, newest: Numbers) -> Day:
    """A day with its shift, and what is usual of it; ``newest`` is what goes on."""
    days = (*memory.days, own)
    goes_on = np.array([one.goes_on for one in memory.channels])
    is_seldom = np.array([not one.is_each_round for one in memory.channels])
    soon, late = (Sums(days, own.day - length) for length in (SHIFT_DAYS, SELDOM_DAYS))
    count, total = (
        np.where(is_seldom, b, a) for a, b in ((soon.count, late.count), (soon.total, late.total))
    )
    is_enough = count >= FEWEST_LEVELS
    more = np.where(np.where(is_seldom, late.runs, soon.runs) >= FEWEST_RUNS, 0.0, FEW_RUNS_MORE)
    by_itself, by_day = own_wander(memory, own.day)
    shift = np.where(is_enough, mean_of(total, count, 0.0) - risen_before(memory, own.day), 0.0)
    climbs = np.array([one.climbs for one in memory.channels], dtype=bool)
    shift = np.where(climbs, np.maximum(shift, 0.0), shift)
    mean, before = mean_of(own.total, own.count, 0.0), memory.last
    return replace(
        own,
        shift=shift,
        shift_squares=before.shift_squares + shift**2,
        shifts=before.shifts + (shift != 0),
        mean_squares=before.mean_squares + mean**2,
        means=before.means + (own.count > 0),
        recent=np.where(goes_on, newest, total / (count + SHRUNK_BY)),
        scatter=own_scatter(days, own.day),
        reach=np.maximum(least_shift(memory, own.day, by_itself) + more, OF_OWN_SHIFT * by_itself),
        far=np.maximum(DEPARTURE_SIGMAS + more, OF_OWN_DAYS * by_day),
    )


def least_shift(memory: Memory, day: int, by_itself: Numbers) -> Numbers:
    """What a shift wants at least: less where a channel is known to be quiet by itself."""
    known = known_before(memory, day)
    quiet = np.minimum(SHIFT_SIGMAS, QUIET_SIGMAS + OF_QUIET * by_itself)
    is_known = (known.shifts >= QUIET_DAYS) & (by_itself > 0)
    return np.where(is_known, quiet, SHIFT_SIGMAS)


def risen_before(memory: Memory, day: int) -> Numbers:
    """Of channels that climb by themselves the mean of the days before the last RISE_DAYS: from
    there their shifts are counted. 0 for the others; where nothing is known of then, inf."""
    sums = Sums(memory.days, day - RISE_DAYS - SHIFT_DAYS, day - RISE_DAYS)
    climbs = np.array([one.climbs for one in memory.channels], dtype=bool)
    return np.where(climbs, mean_of(sums.total, sums.count, np.inf), 0.0)


class Sums:
    """Sums over the days after < day <= until, by channel."""

    def __init__(self, days: Sequence[Day], after: int, until: float = np.inf) -> None:
        within = [one for one in days if after < one.day <= until]
        self.total, self.squares, self.count, self.runs = (
            np.sum([getattr(one, name) for one in within], axis=0)
            for name in ("total", "squares", "count", "runs")
        )


def mean_of(total: Numbers, count: Numbers, otherwise: float) -> Numbers:
    return np.where(count > 0, total / np.where(count > 0, count, 1.0), otherwise)


def last_two(sigmas: Numbers, before: Numbers) -> Numbers:
    """Mean of the last two levels of each channel, drawn a little to none; else as before."""
    found = before.copy()
    for column in np.flatnonzero((~np.isnan(sigmas)).any(axis=0)):
        known = sigmas[~np.isnan(sigmas[:, column]), column][-2:]
        found[column] = known.sum() / (known.size + SHRUNK_BY_IF_IT_GOES_ON)
    return found


def own_scatter(days: Sequence[Day], day: int) -> Numbers:
    """Sigma of the residuals about what was expected, over the sigma of the baselines."""
    sums = Sums(days, day - SCATTER_DAYS)
    is_known = sums.count >= SCATTER_LEVELS
    sigma = np.sqrt(mean_of(sums.squares, sums.count, 1.0))
    return np.where(is_known, np.clip(sigma, *SCATTER_RANGE), 1.0)


def own_wander(memory: Memory, day: int) -> tuple[Numbers, Numbers]:
    """Root mean square of the shifts, and of the days' means, that are no news any more."""
    known = known_before(memory, day)
    return (
        np.sqrt(mean_of(known.shift_squares, known.shifts, 0.0)),
        np.sqrt(mean_of(known.mean_squares, known.means, 0.0)),
    )


def known_before(memory: Memory, day: int) -> Day:
    """The newest day that is no news any more."""
    seen = [one for one in memory.days if one.day <= day - UNSEEN_DAYS]
    return seen[-1] if seen else blank_day(-1, -1, len(memory.channels))


def with_points(
    memory: Memory, day: int, levels: Levels, places: Places
) -> tuple[dict[Key, tuple[Point, ...]], dict[Key, Channel]]:
    """The points with those of a day's levels, and the channels and places that have new ones."""
    points, touched = dict(memory.points), {}
    for number, place in enumerate(places):
        for column in np.flatnonzero(levels.readings[number]):
            one = memory.channels[column]
            key = (one.key, place[one.heeds])
            known = memory.baselines.get(key)
            if known is None or not known.is_last:
                points[key] = (*points.get(key, ()), point_of(day, levels, number, int(column)))
                touched[key] = one
    return points, touched


def with_baselines(memory: Memory, touched: Mapping[Key, Channel]) -> Memory:
    """The memory with the baselines that can be learned now; of the last ones no point is kept."""
    new = {
        key: learned(memory.points[key], one.step, is_last=key in memory.baselines)
        for key, one in touched.items()
        if is_due(memory.points[key], memory.baselines.get(key), is_test=one.is_test)
    }
    if not new:
        return memory
    done = {key for key, one in new.items() if one.is_last}
    points = {key: own for key, own in memory.points.items() if key not in done}
    return replace(memory, baselines={**memory.baselines, **new}, points=points, found={})


def point_of(day: int, levels: Levels, run: int, column: int) -> Point:
    return Point(
        day=day,
        run=int(levels.run[run]),
        level=float(levels.level[run, column]),
        readings=int(levels.readings[run, column]),
        squares=float(levels.squares[run, column]),
    )
