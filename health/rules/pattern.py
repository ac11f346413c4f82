"""What is strange only together: a multivariate chart of the days' means. Pure.

A row is a day: by channel the mean of its residuals in sigmas of the baselines; of three days the
one in the middle, so that one day alone raises nothing. The chart is learned of the days before
the last ones (``LATE_DAYS``), and must be beyond its limit both from them and from the baselines.
It hangs on the meter that carries most of it, and says which others carry the rest. Where a flag
of one of these stands already it adds none.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from health.rules.channels import Channel, Programme, Weather
from health.rules.consistency import ABOVE_RAW, LEAKAGE, REFLECTION
from health.rules.days import BACK, BEYOND, DEPARTURE, PRIORITY, SHIFT
from health.rules.episode import Episode
from health.rules.memory import SHIFT_DAYS, SHIFT_SIGMAS, UNSEEN_DAYS, WIDEST, Day, Memory
from health.rules.sheets import Sheets
from health.statistics.pattern import (
    Chart,
    Weighted,
    fitted,
    least_usual,
    scores,
    shares,
    usual_size,
    weighted_means,
)

Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
Columns = npt.NDArray[np.int64]

PATTERN = "pattern"
WEIGHT, FACTOR = 0.5, 2.0
"""Of the newest day in the weighted mean; and how many times what the transmitter's own days make
of the chart it must be. Found on generated histories whose seeds are in no benchmark: no other
source."""
LEAST_SIGMA = 0.5
"""In sigmas of the baseline, or in parts of how far a channel wanders by itself: a channel that was
quiet for some weeks is not taken to be quieter. Found in the same way."""
LATE_DAYS, FEWEST_DAYS, KNOWN_PART = 10, 30, 0.6
"""The last days are not learned of; so many days before them there must be, and each channel in
such a part of them: common practice, no source."""
MIDDLE_OF = 3
FEWEST_CHANNELS = 2
CARRIES, ALONE = 0.1, 0.8
"""From which share on a channel is named, and from which on it is strange by itself and no matter
of this chart: common practice, no source."""
INSTEAD = frozenset({REFLECTION, LEAKAGE, ABOVE_RAW})
"""Relations that stand for a meter that is not judged by itself; the others only repeat meters."""
SINGLE = (DEPARTURE, SHIFT, BEYOND)


@dataclass(frozen=True)
class Signal:
    """The chart on its newest day.

    ``size``: the statistic over its limit; ``columns``: the channels that carry it, most first;
    ``shares``: what part of it each carries; ``means``: where each stands, in sigmas from its
    baseline.
    """

    statistic: float
    limit: float
    columns: tuple[int, ...]
    shares: tuple[float, ...]
    means: tuple[float, ...]

    @property
    def size(self) -> float:
        return self.statistic / self.limit


def judge_pattern(
    memory: Memory, sheets: Sheets, standing: Sequence[Episode]
) -> tuple[list[Episode], list[Episode]]:
    """The flag of the chart at the end of a day: where it began or ended, and where it stands.

    ``memory`` is that after the day, ``sheets`` its rounds, ``standing`` all flags that stand, of
    single meters as well.
    """
    stood = [one for one in standing if one.rule == PATTERN]
    signal = signal_of(memory)
    if signal is None:
        return [], stood
    if stood:
        if signal.size >= BACK:
            return [], stood
        until = int(sheets.minute[-1])
        return [replace(one, until=until) for one in stood], []
    is_together = signal.size >= 1 and signal.shares[0] < ALONE
    if not is_together or is_known_already(memory.channels, signal, standing):
        return [], []
    begun = [begun_by(signal, memory.channels, sheets)]
    return begun, begun


def is_known_already(
    channels: Sequence[Channel], signal: Signal, standing: Sequence[Episode]
) -> bool:
    """Whether a flag of one of the meters that carry it stands."""
    meters = {key for column in signal.columns for key in channels[column].meter_ids}
    of_channel = {one.key: one.meter_ids for one in channels}
    singles = [one for one in standing if one.rule.endswith(SINGLE)]
    return any(
        not meters.isdisjoint(of_channel.get(one.evidence.get("channel", ""), (one.meter_id,)))
        for one in singles
    )


def begun_by(signal: Signal, channels: Sequence[Channel], sheets: Sheets) -> Episode:
    carried = [
        {"channel": channels[column].key, "share": round(share, 3), "mean": round(mean, 3)}
        for column, share, mean in zip(signal.columns, signal.shares, signal.means, strict=True)
    ]
    most = channels[signal.columns[0]]
    return Episode(
        rule=PATTERN,
        meter_id=most.meter_id,
        first_no=int(sheets.no[-1]),
        since=int(sheets.minute[-1]),
        until=None,
        priority=PRIORITY,
        evidence={
            "channel": most.key,
            "size": round(signal.statistic, 3),
            "limit": round(signal.limit, 3),
            "carried": carried,
        },
    )


def signal_of(memory: Memory) -> Signal | None:
    """What the chart says on the newest day; None without days or channels to learn of."""
    today = memory.last.day
    days = [one for one in memory.days if one.day > today - UNSEEN_DAYS]
    learned = sum(one.day <= today - LATE_DAYS for one in days)
    if learned < FEWEST_DAYS:
        return None
    rows = day_means(days)
    is_recent = np.array([one.day > today - SHIFT_DAYS for one in days])
    columns = np.flatnonzero(is_charted(memory.channels) & is_known(rows, learned, is_recent))
    if columns.size < FEWEST_CHANNELS:
        return None
    floor = LEAST_SIGMA * np.maximum(memory.last.reach[columns] / SHIFT_SIGMAS, 1.0)
    return charted(middle_days(rows[:, columns]), learned, floor, columns)


def charted(rows: Numbers, learned: int, floor: Numbers, columns: Columns) -> Signal:
    """The chart of the last row, learned of the first ones."""
    reference = rows[:learned]
    means = weighted_means(rows, WEIGHT)
    newest = Weighted(means.mean[-1:], means.behind[-1:])
    own = nearer(fitted(reference, weight=WEIGHT, floor=floor), newest)
    statistic, limit = float(own @ own), FACTOR * least_usual(*reference.shape)
    if statistic >= BACK * limit:  # below that it is back, whatever is usual
        limit = FACTOR * usual_size(reference, weight=WEIGHT, floor=floor)
    part = shares(own)
    most = np.argsort(-part, kind="stable")
    most = most[(part[most] >= CARRIES) | (most == most[0])]
    where = newest.mean[0] / newest.behind[0]
    return Signal(
        statistic=statistic,
        limit=limit,
        columns=tuple(columns[most].tolist()),
        shares=tuple(part[most].tolist()),
        means=tuple(where[most].tolist()),
    )


def nearer(chart: Chart, newest: Weighted) -> Numbers:
    """The scores from the last weeks or from the baselines: of the chart that says less."""
    charts = (chart, replace(chart, centre=np.zeros_like(chart.centre)))
    return min((scores(one, newest)[0] for one in charts), key=lambda row: float(row @ row))


def is_charted(channels: Sequence[Channel]) -> Marks:
    """Each meter once: as it is most often read, and not again in a relation."""
    return np.array(
        [
            one.is_judged
            and one.is_steady
            and one.programme != Programme.CARRIER
            and one.weather != Weather.WET
            and (not one.relation or one.relation in INSTEAD)
            for one in channels
        ],
        dtype=bool,
    )


def is_known(rows: Numbers, learned: int, is_recent: Marks) -> Marks:
    """Channels with enough days to learn of, and with one of late."""
    has = ~np.isnan(rows)
    return np.asarray((has[:learned].mean(axis=0) >= KNOWN_PART) & has[is_recent].any(axis=0))


def day_means(days: Sequence[Day]) -> Numbers:
    """Days x channels; NaN where a day has no level, or one that no longer counts."""
    total, count = (np.array([getattr(one, name) for one in days]) for name in ("total", "count"))
    return np.where(count > 0, total / np.where(count > 0, count, 1.0), np.nan)


def middle_days(rows: Numbers) -> Numbers:
    """Of each day and the two before it the one that lies nearest to the other two: a day that
    stands alone is left out, and what a day's channels say together stays together.

    Source: vector median filters, Astola, Haavisto and Neuvo, Proceedings of the IEEE 78(4), 1990
    (from memory).
    """
    place = np.maximum(np.arange(len(rows))[:, None] + np.arange(1 - MIDDLE_OF, 1), 0)
    days = rows[place]
    squares = (days[:, :, None] - days[:, None]) ** 2
    has = ~np.isnan(squares)
    both = has.sum(axis=3)
    apart = np.where(has, squares, 0.0).sum(axis=3) / np.maximum(both, 1)
    total = np.where(both > 0, apart, WIDEST**2).sum(axis=2)
    newest_first = total[:, ::-1].argmin(axis=1)
    return np.asarray(rows[place[np.arange(len(rows)), MIDDLE_OF - 1 - newest_first]])
