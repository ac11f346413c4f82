"""Hours out of an hour counter's readings, with what the state log says where it fails. Pure.

Times are in hours since 1970 UTC, as the minutes of readings divided by 60.

What a counter gained is counted where it can be true: never backwards, and never more than the
clock between the two readings. Elsewhere, and where nothing was read, hours are estimated from
the state log and marked.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

# The minute of a round stands for all its meters: a counter is read some minutes off it.
CLOCK_SLACK_H = 0.1
# A counter that stands still this long while its filament is up is stuck.
FROZEN_AFTER_H = 1.0
# Hours are shown to a tenth; from this part on the whole is marked as estimated.
LEAST_SHOWN_H = 0.05
MARKED_PART = 0.01


class Gain(StrEnum):
    """What the difference of two readings of one counter can be."""

    COUNTED = "counted"
    ROLLOVER = "rollover"
    BACKWARDS = "backwards"
    TOO_MUCH = "too_much"


@dataclass(frozen=True)
class Counter:
    """An hour counter: ``turn`` is what it counts before it shows zero again; ``step`` its last
    digit, both in hours.
    """

    turn: float
    step: float


def counter_with(full_scale: float, step: float) -> Counter:
    """A counter that shows zero one step after its full scale."""
    return Counter(full_scale + step, step)


@dataclass(frozen=True)
class Replacement:
    """A counter that was replaced: its last reading, the first of ``counter``, which follows."""

    at: float
    old_last: float | None
    new_first: float | None
    counter: Counter


@dataclass(frozen=True)
class Running:
    """The stretches in which the thing counted was running, by the state log; in order, apart."""

    since: Floats
    until: Floats

    def hours(self, at: npt.ArrayLike) -> Floats:
        """Hours of running up to each instant.

        Example
        -------
        >>> Running(np.array([10.0]), np.array([14.0])).hours([9.0, 11.5, 20.0])
        array([0. , 1.5, 4. ])
        """
        knots = np.column_stack([self.since, self.until]).ravel()
        lengths = self.until - self.since
        passed = np.column_stack([np.cumsum(lengths) - lengths, np.cumsum(lengths)]).ravel()
        instants = np.asarray(at, dtype=float)
        return np.interp(instants, knots, passed) if knots.size else np.zeros_like(instants)


@dataclass(frozen=True)
class Hours:
    """Hours, and how many of them are estimated."""

    hours: float = 0.0
    estimated: float = 0.0

    def __add__(self, other: "Hours") -> "Hours":
        return Hours(self.hours + other.hours, self.estimated + other.estimated)

    @property
    def has_estimate(self) -> bool:
        return self.estimated > LEAST_SHOWN_H

    @property
    def is_estimated(self) -> bool:
        """Whether the estimate weighs: more of it than a counter's reading now and then misses."""
        return self.has_estimate and self.estimated > MARKED_PART * self.hours


def gain_between(
    elapsed: float, before: float, after: float, counter: Counter
) -> tuple[Gain, float]:
    """What a counter gained between two readings, if that can be true.

    Parameters
    ----------
    elapsed : float
        Hours by the clock between the readings [h].
    before, after : float
        The readings [h].
    counter : Counter

    Returns
    -------
    tuple of Gain and float
        The gain [h] is 0 unless it is counted or a rollover.

    Example
    -------
    >>> gain_between(14.0, 99_998.0, 12.0, Counter(100_000.0, 1.0))
    (<Gain.ROLLOVER: 'rollover'>, 14.0)
    >>> gain_between(24.0, 41_000.0, 41_026.0, Counter(100_000.0, 1.0))
    (<Gain.TOO_MUCH: 'too_much'>, 0.0)
    """
    most, gain = elapsed + counter.step + CLOCK_SLACK_H, after - before
    if gain >= 0:
        return (Gain.COUNTED, gain) if gain <= most else (Gain.TOO_MUCH, 0.0)
    turned = gain + counter.turn
    return (Gain.ROLLOVER, turned) if turned <= most else (Gain.BACKWARDS, 0.0)


@dataclass(frozen=True)
class Stretches:
    """A counter's hours from one ``edge`` to the next: how many, and which are estimated.

    ``edges`` (n + 1) in order, ``hours`` (n), ``is_estimated`` (n). Inside a stretch the hours
    are spread as the state log says, or evenly where it knows of none.
    """

    edges: Floats
    hours: Floats
    is_estimated: Flags
    running: Running

    def between(self, since: float, until: float) -> Hours:
        """The hours of a span inside the edges."""
        ends = np.array([since, until])
        total = np.diff(self._until(ends, self.hours))[0]
        estimated = np.diff(self._until(ends, np.where(self.is_estimated, self.hours, 0.0)))[0]
        return Hours(float(total), float(estimated))

    def until(self, at: npt.ArrayLike) -> Floats:
        """The hours from the first edge to each instant."""
        return self._until(np.asarray(at, dtype=float), self.hours)

    def _until(self, at: Floats, hours: Floats) -> Floats:
        before = np.concatenate([[0.0], np.cumsum(hours)])
        place = np.clip(np.searchsorted(self.edges, at, side="right") - 1, 0, len(hours) - 1)
        return before[place] + hours[place] * self._share(at, place)

    def _share(self, at: Floats, place: npt.NDArray[np.intp]) -> Floats:
        """Which part of its stretch has passed at each instant."""
        begin, end = self.edges[place], self.edges[place + 1]
        ran, runs = self.running.hours(at), self.running.hours(end) - self.running.hours(begin)
        by_log = (ran - self.running.hours(begin)) / np.where(runs > 0, runs, 1.0)
        length = np.where(end > begin, end - begin, 1.0)
        share = np.where(runs > 0, by_log, (at - begin) / length)
        return np.clip(share, 0.0, 1.0)


def stretches(
    at: Floats,
    value: Floats,
    replacements: Sequence[Replacement],
    running: Running,
    counter: Counter,
    span: tuple[float, float],
) -> Stretches:
    """The hours of one counter over a span.

    Parameters
    ----------
    at, value : array (n,)
        The current readings in order of time: instants [h] and what was read [h].
    replacements : sequence of Replacement
        When the counter was replaced, in order of time.
    running : Running
        When the thing counted was running, by the state log.
    counter : Counter
        The first one, before any replacement.
    span : tuple of float
        What the stretches must reach [h]; before the first reading and after the last one the
        hours are estimated.

    Returns
    -------
    Stretches
        At least from ``span[0]`` to ``span[1]``.
    """
    counters = [counter, *(one.counter for one in replacements)]
    parts = [
        _series(*part, running, one)
        for part, one in zip(_by_counter(at, value, replacements), counters, strict=True)
    ]
    edges, hours = (np.concatenate(column) for column in zip(*parts, strict=True))
    ends = [min([span[0], *edges[:1]]), max([span[1], *edges[-1:]])]
    edges = np.concatenate([ends[:1], edges, ends[1:]])
    hours = np.append(hours, np.nan)
    is_estimated = np.isnan(hours)
    estimates = np.diff(running.hours(edges))
    return Stretches(edges, np.where(is_estimated, estimates, hours), is_estimated, running)


def _by_counter(
    at: Floats, value: Floats, replacements: Sequence[Replacement]
) -> Iterable[tuple[Floats, Floats]]:
    """The readings of each counter in turn, with those taken when it was replaced."""
    begin, first = -np.inf, None
    for one in [*replacements, None]:
        end = one.at if one else np.inf
        inside = (at >= begin) & (at < end)
        mine = list(zip(at[inside], value[inside], strict=True))
        if first is not None:
            mine.insert(0, (begin, first))
        if one and one.old_last is not None:
            mine.append((end, one.old_last))
        yield np.array([a for a, _ in mine]), np.array([v for _, v in mine])
        begin, first = end, one.new_first if one else None


def _series(at: Floats, value: Floats, running: Running, counter: Counter) -> tuple[Floats, Floats]:
    """The instants of one counter, and the hours up to each; nan where the state log must say."""
    is_kept = ~doubtful(at, value, counter)
    at, value = at[is_kept], value[is_kept]
    gained = np.full(len(at), np.nan)
    if len(at) > 1:
        gains = _gains(np.diff(at), np.diff(value), counter)
        gained[1:] = np.where(_frozen(at, value, running, counter), np.nan, gains)
    return at, gained


def _gains(elapsed: Floats, difference: Floats, counter: Counter) -> Floats:
    """As ``gain_between`` for many pairs: nan where the difference cannot be true."""
    most = elapsed + counter.step + CLOCK_SLACK_H
    gain = np.where(difference < 0, difference + counter.turn, difference)
    return np.where((gain <= most) & (gain >= 0), gain, np.nan)


def doubtful(at: Floats, value: Floats, counter: Counter) -> Flags:
    """Which readings do not fit between their neighbours, while the neighbours fit each other.

    Example
    -------
    >>> doubtful(np.arange(4.0), np.array([10.0, 91.0, 12.0, 13.0]), Counter(1e5, 1.0))
    array([False,  True, False, False])
    """
    is_doubtful = np.zeros(len(at), dtype=bool)
    misfits = np.flatnonzero(np.isnan(_gains(np.diff(at), np.diff(value), counter)))

    def fits(before: int, after: int) -> bool:
        if not 0 <= before < after < len(at):
            return False
        gain, _hours = gain_between(at[after] - at[before], value[before], value[after], counter)
        return gain in {Gain.COUNTED, Gain.ROLLOVER}

    for before in misfits.tolist():
        after = before + 1
        if is_doubtful[before]:
            continue
        if fits(before, after + 1):
            is_doubtful[after] = True
        elif fits(before - 1, after):
            is_doubtful[before] = True
    return is_doubtful


def frozen_after(counter: Counter) -> float:
    """How long a counter stands still while its filament is up before it counts as stuck [h]."""
    return max(FROZEN_AFTER_H, 2 * counter.step)


def _frozen(at: Floats, value: Floats, running: Running, counter: Counter) -> Flags:
    """Which differences belong to a counter that stood still while its filament was up."""
    ran = running.hours(at)
    starts = np.concatenate([[True], np.diff(value) != 0])
    run = np.cumsum(starts) - 1
    first = np.flatnonzero(starts)
    last = np.concatenate([first[1:], [len(at)]]) - 1
    stood: Flags = ran[last] - ran[first] > frozen_after(counter)
    is_frozen: Flags = stood[run[1:]] & ~starts[1:]
    return is_frozen
