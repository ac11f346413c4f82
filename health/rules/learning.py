"""How a day that has ended is added to what the judge remembers. Pure.

Its levels are held against the baselines of the days before, summed with those days, and learned
of: from them come new baselines.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from health.rules.baselines import Point, is_due, learned
from health.rules.channels import Channel
from health.rules.levels import Levels, run_levels
from health.rules.memory import (
    DEPARTURE_SIGMAS,
    FEW_RUNS_MORE,
    FEWEST_LEVELS,
    FEWEST_RUNS,
    OF_OWN_DAYS,
    OF_OWN_SHIFT,
    OF_QUIET,
    QUIET_DAYS,
    QUIET_SIGMAS,
    SCATTER_DAYS,
    SCATTER_LEVELS,
    SCATTER_RANGE,
    SEASON_SIGMAS,
    SELDOM_DAYS,
    SHIFT_DAYS,
    SHIFT_SIGMAS,
    SHRUNK_BY,
    SHRUNK_BY_IF_IT_GOES_ON,
    TEST_SIGMAS,
    UNSEEN_DAYS,
    USUAL_SHRUNK_BY,
    WIDER_OF_FEW,
    WIDEST,
    Day,
    Key,
    Marks,
    Memory,
    Numbers,
    Sums,
    baselines_at,
    blank_day,
    held,
    known_before,
    mean_of,
    newest_mean,
    of_own_days,
    place_at,
    risen_before,
    stood_before,
    wander,
)
from health.rules.sheets import Sheets

Places = Sequence[Mapping[str, str]]


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


def places_of(sheets: Sheets, levels: Levels) -> Places:
    """The operating point of each run."""
    return [place_at(sheets, int(row)) for row in levels.first_row]


def summed_day(memory: Memory, day: int, levels: Levels, places: Places) -> Day:
    """What a day's levels say, with the days before."""
    known = [baselines_at(memory, place) for place in places]
    offset = levels.level - np.array([one.centre for one in known])
    sigmas = np.clip(offset / np.array([one.total for one in known]), -WIDEST, WIDEST)
    is_known = ~np.isnan(sigmas)
    count = is_known.sum(axis=0).astype(np.float64)
    before = memory.last
    own = replace(
        blank_day(day, int(levels.run[-1]), count.size),
        squares=np.where(is_known, (sigmas - before.recent) ** 2, 0.0).sum(axis=0),
        count=count,
        runs=is_known[begins_run(levels, before.run)].sum(axis=0).astype(np.float64),
        offset=mean_of(np.where(is_known, offset, 0.0).sum(axis=0), count, np.nan),
    )
    own = with_wants(memory, own)
    counted = held(sigmas, stood_before(memory, day, own.usual), own.reach)
    own = replace(own, total=np.where(is_known, counted, 0.0).sum(axis=0))
    return judged_day(memory, own, last_two(sigmas, before.recent))


def begins_run(levels: Levels, before: int) -> Marks:
    return np.asarray(np.diff(levels.run, prepend=before) != 0)


def with_wants(memory: Memory, own: Day) -> Day:
    """A day with where its channels usually stand, and what a shift and a departure want."""
    runs = of_own_days(memory, (*memory.days, own), own.day)["runs"]
    more = np.where(runs >= FEWEST_RUNS, 0.0, FEW_RUNS_MORE)
    known = known_before(memory, own.day)
    usual, by_itself, by_day = own_wander(memory, known)
    return replace(
        own,
        usual=usual,
        reach=np.maximum(least_shift(memory, known, by_itself) + more, OF_OWN_SHIFT * by_itself),
        far=np.maximum(least_departure(memory) + more, OF_OWN_DAYS * by_day),
    )


def judged_day(memory: Memory, own: Day, newest: Numbers) -> Day:
    """A day with its shift and the sums up to it; ``newest`` is what goes on."""
    days = (*memory.days, own)
    sums = of_own_days(memory, days, own.day)
    total, count = sums["total"], sums["count"]
    is_enough = count >= FEWEST_LEVELS
    is_soon = memory.marks("is_each_round")
    stands = np.where(is_soon, newest_mean(days, own.day), mean_of(total, count, 0.0))
    stands = stands - risen_before(memory, own.day)
    stands = np.where(memory.marks("climbs"), np.maximum(stands, 0.0), stands)
    is_enough &= np.isfinite(stands)
    stands = np.where(is_enough, stands, 0.0)
    mean, before = mean_of(own.total, own.count, 0.0), memory.last
    return replace(
        own,
        shift=np.where(is_enough, stands - own.usual, 0.0),
        shift_total=before.shift_total + stands,
        shift_squares=before.shift_squares + stands**2,
        shifts=before.shifts + (stands != 0),
        mean_total=before.mean_total + mean,
        mean_squares=before.mean_squares + mean**2,
        means=before.means + (own.count > 0),
        recent=np.where(memory.marks("goes_on"), newest, total / (count + SHRUNK_BY)),
        scatter=own_scatter(days, own.day),
    )


def least_shift(memory: Memory, known: Day, by_itself: Numbers) -> Numbers:
    """What a shift wants at least: less where a channel is known to be quiet by itself, which few
    shifts know badly. ``known``: the newest day that is no news any more."""
    overlap = np.where(memory.marks("is_each_round"), SHIFT_DAYS, SELDOM_DAYS)
    wider = 1 + WIDER_OF_FEW * overlap / np.maximum(known.shifts, 1.0)
    quiet = np.minimum(SHIFT_SIGMAS, QUIET_SIGMAS + OF_QUIET * by_itself * wider)
    is_known = (known.shifts >= QUIET_DAYS) & (by_itself > 0)
    least = np.where(is_known, quiet, SHIFT_SIGMAS)
    return np.where(memory.marks("goes_with_season"), SEASON_SIGMAS, least)


def least_departure(memory: Memory) -> Numbers:
    """What a departure wants at least: less of a test, which is taken on purpose and read again."""
    return np.where(memory.marks("is_test"), TEST_SIGMAS, DEPARTURE_SIGMAS)


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


def own_wander(memory: Memory, known: Day) -> tuple[Numbers, Numbers, Numbers]:
    """Where each channel stands by itself, and how far its last days and its days' means scatter
    about there, by what was known on a day."""
    usual = known.shift_total / (known.shifts + USUAL_SHRUNK_BY)
    usual = np.where(memory.marks("climbs"), 0.0, usual)
    return usual, *wander(known, usual)


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
        if is_due(
            memory.points[key], memory.baselines.get(key), is_test=one.is_test, climbs=one.climbs
        )
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
