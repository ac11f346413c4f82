"""Slopes of all pairs of points by rank, without building all pairs. Pure.

A pair's slope is at most m where the two change their order when m x is taken off y: so counting
inversions counts slopes. A bracket about the wanted ranks is drawn from a sample of slopes, held
by counting, and narrowed until its pairs are few enough to be looked at one by one.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.signedinteger]

FEW, SAMPLE = 60_000, 10_000
"""So many pairs are looked at one by one, and so many are drawn at least: both by measuring."""
SEED = 1968
SIGMAS = 3.5
"""How far from the rank's place in the sample a bracket reaches; one that misses is drawn anew."""
WIDER = 3.0
ROUNDING = 64 * float(np.finfo(np.float64).eps)


@dataclass(frozen=True)
class Bracket:
    """Pairs with a slope of low < slope <= high: ``before`` have a lower one, ``within`` are in it.

    ``inner`` parts the points in the order of ``low``, as ranks of ``order``, the points in that of
    ``high``: two of them that are inverted are a pair of the bracket.
    """

    low: float
    high: float
    before: int
    within: int
    inner: "tuple[Level, ...]"
    order: Whole

    def holds(self, ranks: Sequence[int]) -> bool:
        return self.before <= min(ranks) and max(ranks) < self.before + self.within


class Points:
    """Points by x, then y; taken off their middles, so that differences keep their digits."""

    def __init__(self, x: Numbers, y: Numbers) -> None:
        by_x = np.lexsort((y, x))
        self.x, self.y = x[by_x], y[by_x]
        self.from_x, self.from_y = self.x - np.median(self.x), self.y - np.median(self.y)
        starts = np.flatnonzero(np.diff(self.x, prepend=-np.inf))
        lengths = np.diff(starts, append=self.x.size)
        self.count = int(pairs_of(self.x.size) - pairs_of(lengths).sum())
        # Of equal ones the later x first: a slope of just m counts as at most m.
        self.falling = np.argsort(-self.x, kind="stable")
        self.finest = float(np.diff(self.x[starts]).min())

    @property
    def sample(self) -> int:
        """How many slopes are drawn: of many points more, since counting takes longer there."""
        return max(SAMPLE, self.x.size // 2)

    def order_at(self, slope: float) -> Whole:
        left = (self.from_y - slope * self.from_x)[self.falling]
        return np.asarray(self.falling[np.argsort(left, kind="stable")])

    def blur(self, slope: float) -> float:
        """How far a slope may be off before a pair is surely told from it [y per x]."""
        size = np.abs(self.from_y).max() + abs(slope) * np.abs(self.from_x).max()
        return float(ROUNDING * (size or 1.0) / self.finest)

    def slopes(self, earlier: Whole, later: Whole) -> Numbers:
        return np.asarray(
            (self.y[later] - self.y[earlier]) / (self.x[later] - self.x[earlier]), dtype=np.float64
        )

    def bracket(self, low: float, high: float) -> Bracket:
        order = self.order_at(high)
        rank = np.empty(order.size, dtype=np.int64)
        rank[order] = np.arange(order.size)
        from_low = self.order_at(low)
        place = np.empty(order.size, dtype=np.int64)
        place[from_low] = np.arange(order.size)
        inner = tuple(levels(rank[from_low]))
        return Bracket(low, high, inversions(place), sum(one.pairs for one in inner), inner, order)


def ranked_slopes(x: Numbers, y: Numbers, ranks: Sequence[int]) -> Numbers:
    """The slopes of all pairs that differ in x, at some ranks from the lowest.

    Parameters
    ----------
    x : ndarray [any one unit]
    y : ndarray [any one unit]
        Of the length of ``x``; neither with missing values, at least two x differ.
    ranks : sequence of int
        From 0 to one less than the number of such pairs.

    Returns
    -------
    ndarray [unit of y per unit of x]
        Of the length of ``ranks``.

    Notes
    -----
    Time n log n, memory n. The sample is drawn by a fixed seed; the result does not depend on it.

    Source
    ------
    Counting by inversions: Cole, Salowe, Steiger, Szemeredi 1989; narrowing by samples: Matousek
    1991 (both from memory); derived here.

    Example
    -------
    >>> ranked_slopes(np.array([0.0, 1.0, 3.0]), np.array([0.0, 2.0, 3.0]), [0, 1, 2]).tolist()
    [0.5, 1.0, 2.0]
    """
    points = Points(x, y)
    if pairs_of(x.size) <= FEW:
        return np.asarray(np.sort(all_slopes(points))[list(ranks)])
    first = first_bracket(points, ranks)
    if first.within <= FEW:
        return looked_up(points, first, ranks)
    found: dict[int, float] = {}
    sample = drawn(points, first)
    for group in neighbours(ranks):
        found |= zip(group, selected(points, first, group, sample).tolist(), strict=True)
    return np.array([found[rank] for rank in ranks])


def neighbours(ranks: Sequence[int]) -> list[list[int]]:
    """The ranks in order, those that follow each other together."""
    groups: list[list[int]] = []
    for rank in sorted(set(ranks)):
        if groups and rank == groups[-1][-1] + 1:
            groups[-1].append(rank)
        else:
            groups.append([rank])
    return groups


def pairs_of(n: npt.ArrayLike) -> Whole:
    return np.asarray(np.asarray(n) * (np.asarray(n) - 1) // 2)


def all_slopes(points: Points) -> Numbers:
    earlier, later = np.triu_indices(points.x.size, 1)
    differs = points.x[earlier] < points.x[later]
    return points.slopes(earlier[differs], later[differs])


def looked_up(points: Points, bracket: Bracket, ranks: Sequence[int]) -> Numbers:
    """The slopes at some ranks, of a bracket of few pairs."""
    own = np.sort(slopes_within(points, bracket, None))
    return np.asarray(own[np.array(ranks) - bracket.before])


def slopes_within(points: Points, bracket: Bracket, numbers: Whole | None) -> Numbers:
    """Those of all its pairs, or of some by their numbers."""
    above, below = inverted(bracket.inner, numbers)
    return points.slopes(bracket.order[above], bracket.order[below])


def first_bracket(points: Points, ranks: Sequence[int]) -> Bracket:
    """A bracket of all ranks, from slopes of pairs drawn at random."""
    rng = np.random.default_rng(SEED)
    ends = rng.integers(0, points.x.size, (2, points.sample))
    earlier, later = ends.min(axis=0), ends.max(axis=0)
    differs = points.x[earlier] < points.x[later]
    sample = np.sort(points.slopes(earlier[differs], later[differs]))
    shares = np.array([min(ranks), max(ranks)]) / points.count
    return held(points, sample, shares, ranks)


def held(
    points: Points,
    sample: Numbers,
    shares: Numbers,
    ranks: Sequence[int],
    within: Bracket | None = None,
) -> Bracket:
    """The bracket that a sample gives, as wide as it must be to hold the ranks."""
    reach = SIGMAS
    while True:
        low, high = edges(points, sample, shares, reach)
        if within is not None:
            low, high = max(low, within.low), min(high, within.high)
        found = points.bracket(low, high)
        if found.holds(ranks):
            return found
        reach *= WIDER


def edges(points: Points, sample: Numbers, shares: Numbers, reach: float) -> tuple[float, float]:
    """Slopes on both sides of two shares of a sorted sample; outside of it one that none has."""
    off = reach * (np.sqrt(shares * (1 - shares) * sample.size) + 1)
    low, high = int(shares[0] * sample.size - off[0]), int(shares[1] * sample.size + off[1]) + 1
    beyond = 2 * float(np.ptp(points.y)) / points.finest + 1.0
    below = float(sample[low]) if low >= 0 else -beyond
    above = float(sample[high]) if high < sample.size else beyond
    return below - points.blur(below), above + points.blur(above)


def selected(
    points: Points, bracket: Bracket, ranks: Sequence[int], sample: Numbers | None = None
) -> Numbers:
    """The slopes at ranks of a bracket, which ascend, by narrowing it."""
    if bracket.within <= FEW:
        return looked_up(points, bracket, ranks)
    sample = drawn(points, bracket) if sample is None else sample
    shares = (np.array([min(ranks), max(ranks)]) - bracket.before) / bracket.within
    found = held(points, sample, shares, ranks, bracket)
    if found.within <= bracket.within / 2:
        return selected(points, found, ranks)
    return of_parts(points, found, float(sample[int(shares[0] * sample.size)]), ranks)


def drawn(points: Points, bracket: Bracket) -> Numbers:
    """Some slopes of a bracket, drawn at random, in order."""
    rng = np.random.default_rng(SEED)
    numbers = np.sort(rng.integers(0, bracket.within, points.sample))
    return np.asarray(np.sort(slopes_within(points, bracket, numbers)))


def of_parts(points: Points, bracket: Bracket, slope: float, ranks: Sequence[int]) -> Numbers:
    """The slopes at ranks of a bracket of which one slope may be the most: those below it, those
    that cannot be told from it, those above."""
    low, high = slope - points.blur(slope), slope + points.blur(slope)
    below, same = points.bracket(bracket.low, low), points.bracket(low, high)
    first, last = below.before + below.within, same.before + same.within
    parts = [np.full(sum(first <= rank < last for rank in ranks), slope)]
    lower = [rank for rank in ranks if rank < first]
    higher = [rank for rank in ranks if rank >= last]
    if lower:
        parts.insert(0, selected(points, below, lower))
    if higher:
        parts.append(selected(points, points.bracket(high, bracket.high), higher))
    return np.concatenate(parts)


@dataclass(frozen=True)
class Level:
    """The pairs of a permutation that one bit tells apart: each of ``zeros`` stood after the first
    ``counts`` of those ``ones`` whose higher bits are its own."""

    bit: int
    zeros: Whole
    ones: Whole
    counts: Whole

    @property
    def pairs(self) -> int:
        return int(self.counts.sum())

    @property
    def before(self) -> Whole:
        """How many of its pairs come before those of each zero."""
        return np.asarray(np.cumsum(self.counts) - self.counts)


def levels(ranks: Whole) -> Iterator[Level]:
    """From the highest bit to the lowest: the ranks are parted by each bit in turn, in blocks that
    halve. Those above the last, added to make the blocks whole, stand where they belong."""
    bits = max(int(ranks.size - 1).bit_length(), 1)
    row = np.arange(1 << bits, dtype=np.int32)
    row[: ranks.size] = ranks
    place = np.arange(1 << bits, dtype=np.int32)
    for bit in reversed(range(bits)):
        is_one = (row & (1 << bit)).astype(bool)
        from_zero = np.flatnonzero(~is_one)
        zeros, ones = row[from_zero], row[is_one]
        yield Level(bit, zeros, ones, from_zero - place.reshape(-1, 2, 1 << bit)[:, 0].ravel())
        parted = row.reshape(-1, 2, 1 << bit)
        parted[:, 0] = zeros.reshape(-1, 1 << bit)
        parted[:, 1] = ones.reshape(-1, 1 << bit)


def inversions(ranks: Whole) -> int:
    """How many pairs of a permutation of 0 to n - 1 stand in the wrong order.

    Example
    -------
    >>> inversions(np.array([2, 0, 1, 3]))
    2
    """
    return sum(one.pairs for one in levels(ranks))


def inverted(parted: Iterable[Level], numbers: Whole | None) -> tuple[Whole, Whole]:
    """Inverted pairs of a permutation, the higher and the lower: all, or those of some numbers,
    which ascend."""
    higher, lower, first = [], [], 0
    for one in parted:
        of, nth = every(one) if numbers is None else some(one, numbers - first)
        zeros = one.zeros[of]
        higher.append(one.ones[(zeros >> (one.bit + 1) << one.bit) + nth])
        lower.append(zeros)
        first += one.pairs
    return np.concatenate(higher), np.concatenate(lower)


def every(level: Level) -> tuple[Whole, Whole]:
    """Of each pair of a level, the place of its zero and how many ones of it come before."""
    of = np.repeat(np.arange(level.counts.size), level.counts)
    return of, np.arange(of.size) - np.repeat(level.before, level.counts)


def some(level: Level, numbers: Whole) -> tuple[Whole, Whole]:
    """The same, of pairs by their numbers; others than the level's are passed over."""
    ends = level.before + level.counts
    begin, end = np.searchsorted(numbers, (0, int(ends[-1])))
    of = np.searchsorted(ends, numbers[begin:end], side="right")
    return of, numbers[begin:end] - level.before[of]
