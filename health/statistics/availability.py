"""Scheduled time, lost time, and what few failures say about many hours. Pure.

Spans are pairs (begin, end) in seconds on one time axis, begin <= end.

Source: NIST/SEMATECH e-Handbook 8.4.5.1 for the bounds; availability and its time base after
IEC 60050-192 (second hand): every interval is up or down, and only required time counts.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import log

from scipy.stats import chi2

Span = tuple[float, float]


def union(spans: Iterable[Span]) -> list[Span]:
    """The spans in order, those that touch or overlap made one; empty ones left out.

    Example
    -------
    >>> union([(5, 8), (0, 3), (2, 4), (6, 6)])
    [(0, 4), (5, 8)]
    """
    merged: list[Span] = []
    for begin, end in sorted(spans):
        if begin >= end:
            continue
        if merged and begin <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((begin, end))
    return merged


def common(some: Iterable[Span], others: Iterable[Span]) -> list[Span]:
    """What lies in both unions.

    Example
    -------
    >>> common([(0, 10)], [(2, 4), (8, 12)])
    [(2, 4), (8, 10)]
    """
    whole = union(others)
    shared = (
        (max(begin, first), min(end, last)) for begin, end in union(some) for first, last in whole
    )
    return [(begin, end) for begin, end in shared if begin < end]


def without(some: Iterable[Span], others: Iterable[Span]) -> list[Span]:
    """What lies in the first union and not in the second.

    Example
    -------
    >>> without([(0, 10)], [(2, 4), (8, 12)])
    [(0, 2), (4, 8)]
    """
    left = union(some)
    for first, last in union(others):
        left = [
            piece
            for begin, end in left
            for piece in ((begin, min(end, first)), (max(begin, last), end))
            if piece[0] < piece[1]
        ]
    return left


def seconds(spans: Iterable[Span]) -> float:
    """The length of the union."""
    return sum(end - begin for begin, end in union(spans))


@dataclass(frozen=True)
class Sum:
    """``availability`` is None where nothing was scheduled: no schedule is not 100 per cent."""

    scheduled_s: float
    lost_s: float
    degraded_s: float
    planned_s: float

    @property
    def availability(self) -> float | None:
        return 1 - self.lost_s / self.scheduled_s if self.scheduled_s else None


def sum_up(
    scheduled: Iterable[Span],
    lost: Iterable[Span],
    degraded: Iterable[Span],
    planned: Iterable[Span],
) -> Sum:
    """Lost time is the union of what was lost, within the schedule, less agreed planned work.

    Degraded time stands beside it and is never in it; what is lost is not degraded as well.
    """
    base = union(scheduled)
    of_plan = common(base, planned)
    gone = without(common(base, lost), of_plan)
    weak = without(without(common(base, degraded), gone), of_plan)
    return Sum(seconds(base), seconds(gone), seconds(weak), seconds(of_plan))


@dataclass(frozen=True)
class Reliability:
    """Mean time between failures in hours with its bounds; without a failure only the lower one.

    ``mean_down_h`` is the mean time of a loss; None where there was none.
    """

    failures: int
    hours: float
    mtbf_h: float | None
    low_h: float
    high_h: float | None
    mean_down_h: float | None


def reliability(hours_up: float, failures: int, down_h: float, confidence: float) -> Reliability:
    """What ``failures`` in ``hours_up`` hours of service say, time-terminated.

    Parameters
    ----------
    hours_up : float
        Hours at risk [h], > 0.
    failures : int
        >= 0.
    down_h : float
        Hours lost by them [h], >= 0.
    confidence : float
        Of the two-sided interval, or of the one-sided lower bound without a failure; 0 to 1.

    Example
    -------
    >>> found = reliability(1000.0, 0, 0.0, 0.90)
    >>> round(found.low_h, 4), found.high_h
    (434.2945, None)
    """
    miss = 1 - confidence
    if failures == 0:
        return Reliability(0, hours_up, None, hours_up / -log(miss), None, None)
    low = 2 * hours_up / chi2.ppf(1 - miss / 2, 2 * failures + 2)
    high = 2 * hours_up / chi2.ppf(miss / 2, 2 * failures)
    mtbf = hours_up / failures
    return Reliability(failures, hours_up, mtbf, float(low), float(high), down_h / failures)


def consecutive_low_days(days: Iterable[float], least: float) -> int:
    """How many days at the end of ``days``, each the day's lowest share of the full power, lie
    below ``least``; a whole day restored begins the count anew (47 CFR 73.1560, from memory).

    Example
    -------
    >>> consecutive_low_days([0.5, 1.0, 0.8, 0.85], 0.9)
    2
    """
    count = 0
    for share in days:
        count = count + 1 if share < least else 0
    return count
