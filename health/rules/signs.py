"""What stands elsewhere than it should, by part of the plant: what symptoms are read from. Pure.

A **sign** is how far a group of meters lies from its baselines, in parts of what a flag wants, so
that all signs scatter alike. What a fault moves in one tube alone is told from what it moves in
both by two signs: the mean of a pair, and how far it is apart.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from health.rules.channels import Channel, MeterFacts, Weather
from health.rules.memory import (
    FEWEST_LEVELS,
    RISE_DAYS,
    SHIFT_DAYS,
    Memory,
    held,
    mean_of,
    risen_before,
    sigmas_of_rounds,
    stood_before,
    wander,
)
from health.rules.sheets import Sheets
from health.rules.sign_groups import Group, groups_of

Numbers = npt.NDArray[np.float64]

READINGS = 3
"""So many readings, the newest, say where a channel stands now: common practice, no source."""
LOOK_BACK, ONSET_DAYS = RISE_DAYS + SHIFT_DAYS, 12
"""How many days back is looked; within how many a sign began."""
LATELY, LOW_PART, HIGH_PART = 3, 0.25, 0.75
"""Where it stands now is the furthest of so many last days; and from which part of it to which it
rises."""
CLIMBING_SCATTER = 0.22
"""Of what climbs by itself: its usual rise lies within two of it."""
LEAST_SCATTER, USUAL_SCATTER = 0.12, 0.32
"""Of a sign where nothing is wrong: never taken for less, and where its own is not known; nor for
more, for what a flag wants is some three times what a channel does by itself."""
STANDS_OUT = 0.8
"""Signs below this part of what a flag wants are not enough to read a symptom from."""
SUMS = ("count", "total")


@dataclass(frozen=True)
class Sign:
    """``name`` of the group; ``part`` the tube, leg or loop that it speaks of, '' for the whole.

    ``size``: 1 is what a flag wants, signed; ``scatter``: its sigma where nothing is wrong;
    ``rising``: in how many days it came, as far as is looked back.
    """

    name: str
    part: str
    size: float
    scatter: float = USUAL_SCATTER
    rising: float = float("inf")


@dataclass(frozen=True)
class Sizes:
    """By channel what a sign says; NaN where nothing is known."""

    size: Numbers
    scatter: Numbers
    rising: Numbers


def signs_at(memory: Memory, sheets: Sheets, meters: Mapping[int, MeterFacts]) -> list[Sign]:
    """The signs at the end of some rounds.

    Parameters
    ----------
    memory : Memory
        Of the days before, or with the day itself where it has ended.
    sheets : Sheets
        Of one day, as far as it is read.
    meters : mapping of int to MeterFacts

    Returns
    -------
    list of Sign
        Of every group that anything is known of.
    """
    return grouped_signs(memory.channels, meters, sizes_now(memory, newest_sigmas(memory, sheets)))


def grouped_signs(
    channels: Sequence[Channel], meters: Mapping[int, MeterFacts], sizes: Sizes
) -> list[Sign]:
    """The channels' sizes by group: the mean of those that are known."""
    groups: dict[Group, list[tuple[int, float]]] = {}
    for column, one in enumerate(channels):
        for group, sense in groups_of(one, meters):
            if not np.isnan(sizes.size[column]):
                groups.setdefault(group, []).append((column, sense))
    return [Sign(*group, *mean_of_group(sizes, own)) for group, own in groups.items()]


def mean_of_group(sizes: Sizes, own: Sequence[tuple[int, float]]) -> tuple[float, float, float]:
    columns, senses = np.array([at for at, _sense in own]), np.array([one for _at, one in own])
    return (
        float((sizes.size[columns] * senses).mean()),
        float(sizes.scatter[columns].mean()),
        float(sizes.rising[columns].min()),
    )


def sizes_now(memory: Memory, newest: Numbers) -> Sizes:
    """By channel the shift of the last days or the newest readings, whichever is larger.

    Parameters
    ----------
    memory : Memory
    newest : ndarray [sigma]
        Mean of each channel's newest readings, NaN without any.
    """
    last = memory.last
    climbs = memory.marks("climbs")
    by_shift = newest_shifts(memory, newest) / last.reach
    by_newest = (newest - last.usual - risen_before(memory, last.day)) / last.far
    by_newest = np.where(climbs, np.maximum(by_newest, 0.0), by_newest)
    is_newest = np.isnan(by_shift) | (np.abs(by_newest) > np.abs(by_shift))
    size = np.where(is_newest, by_newest, by_shift)
    of_shifts, of_newest = scatters(memory)
    scatter = np.where(is_newest, of_newest, of_shifts)
    scatter = np.where(climbs, np.minimum(scatter, CLIMBING_SCATTER), scatter)
    return Sizes(size, scatter, rising_days(memory, newest, size))


def is_enough(signs: Iterable[Sign]) -> bool:
    """Whether anything stands out by so much that a symptom can be read from it."""
    return any(abs(one.size) >= STANDS_OUT for one in signs)


def newest_shifts(memory: Memory, newest: Numbers) -> Numbers:
    """The newest shift of each channel, NaN where too few levels spoke; of what only rain or
    carrier alone shows, and has not shown these days, where it stood when it last did."""
    known = np.where(memory.last.shift == 0, np.nan, memory.last.shift)
    known = np.where(memory.marks("climbs"), furthest_climb(memory, known), known)
    is_wet = np.array([one.weather == Weather.WET for one in memory.channels], dtype=bool)
    is_silent = np.isnan(known) & (is_wet | np.isnan(newest))
    return np.where(is_silent, when_last_read(memory), known)


def furthest_climb(memory: Memory, known: Numbers) -> Numbers:
    """The furthest shift of the last weeks that was enough for a symptom, while it has not come
    down by half of it: what rose more than by itself is no less wrong for staying there."""
    days = memory.days[-LOOK_BACK:] or (memory.last,)
    means = filled(np.array([mean_of(one.total, one.count, np.nan) for one in days]))
    shifts = np.array([one.shift for one in days])
    is_there = means[-1] >= np.maximum.accumulate(means) - shifts / 2
    furthest = np.where(is_there, shifts, 0.0).max(axis=0)
    return np.where(furthest >= STANDS_OUT * memory.last.reach, furthest, known)


def when_last_read(memory: Memory) -> Numbers:
    """The newest shift within the last weeks; else the mean of all their levels."""
    days = memory.days[-LOOK_BACK:] or (memory.last,)
    count, total = (np.sum([getattr(one, name) for one in days], axis=0) for name in SUMS)
    mean = np.where(count >= FEWEST_LEVELS, mean_of(total, count, np.nan), np.nan)
    found = mean - memory.last.usual
    for one in days:
        found = np.where(one.shift == 0, found, one.shift)
    return found


def rising_days(memory: Memory, newest: Numbers, sizes: Numbers) -> Numbers:
    """By channel how many days lay between a quarter and three quarters of where it stands now:
    few where it came suddenly, ONSET_DAYS where it was there before then."""
    days = memory.days[-ONSET_DAYS:] or (memory.last,)
    means = [mean_of(one.total, one.count, np.nan) for one in days]
    last = memory.last
    before = stood_before(memory, last.day, last.usual)
    # The days' levels are held as well: beside them the newest would stand out by itself.
    now = held(newest, before, last.reach)
    towards = filled(np.array([*means, now]) - before) * np.sign(sizes)
    whole = towards[-LATELY:].max(axis=0)
    end = len(towards) - 1
    is_low, is_high = towards < LOW_PART * whole, towards >= HIGH_PART * whole
    low = np.where(is_low.any(axis=0), end - is_low[::-1].argmax(axis=0), -1)
    after = np.minimum(low + 1, end)
    high = [int(is_high[place:, column].argmax()) for column, place in enumerate(after)]
    return np.where(low < 0, float(ONSET_DAYS), high)


def filled(rows: Numbers) -> Numbers:
    """Each column with its last known value where one is missing; 0 before the first."""
    known = rows.copy()
    known[0] = np.nan_to_num(known[0])
    for place in range(1, len(known)):
        known[place] = np.where(np.isnan(known[place]), known[place - 1], known[place])
    return known


def scatters(memory: Memory) -> tuple[Numbers, Numbers]:
    """What a channel's shifts do by themselves, and its newest readings (as the days do, and one
    sigma of theirs), in parts of what a flag wants."""
    last = memory.last
    by_itself, by_day = wander(last, last.usual)
    of_shifts = np.where(last.shifts > 0, by_itself, np.inf) / last.reach
    of_newest = np.where(last.means > 0, np.hypot(by_day, 1.0), np.inf) / last.far
    return clipped(of_shifts), clipped(of_newest)


def clipped(scatter: Numbers) -> Numbers:
    return np.clip(scatter, LEAST_SCATTER, USUAL_SCATTER)


def newest_sigmas(memory: Memory, sheets: Sheets) -> Numbers:
    """The mean of each channel's newest readings, in sigmas of its baseline."""
    sigmas = sigmas_of_rounds(memory, sheets)
    found = np.full(len(memory.channels), np.nan)
    for column, own in enumerate(sigmas.T):
        said = own[~np.isnan(own)][-READINGS:]
        if said.size:
            found[column] = said.mean()
    return found
