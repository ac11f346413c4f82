"""What was scheduled, lost and degraded in a month, by transmitter and for the service."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import pandas as pd

from health.boards.transmissions import on_air_spans
from health.statistics.availability import (
    Reliability,
    Span,
    Sum,
    common,
    consecutive_low_days,
    reliability,
    sum_up,
)
from health.statistics.availability import seconds as length
from logbook.frames import standing_points_of_all
from logbook.interruptions import Loss, losses
from logbook.models import LossCause, LossSource
from station.models import Station, Transmitter
from station.schedules import broadcasts_of

RECYCLE_S = 5.0
CONFIDENCE = 0.90
# Less than 90 per cent of the power for ten days is to be told, from the eighth on it is warned
# of: 47 CFR 73.1560 (from memory); local rules come first.
LEAST_SHARE, LOW_DAYS_WARNED = 0.9, 8
POWER_LOOK_BACK = timedelta(days=40)
HOUR_S = 3600.0


@dataclass(frozen=True)
class CauseLine:
    """Lost seconds of the schedule by one cause; two causes at once both count here."""

    source: str
    cause: str
    lost_s: float
    count: int


@dataclass(frozen=True)
class AvailabilityLine:
    """``of_transmitter`` leaves the programme feed out; ``of_service`` counts it."""

    transmitter: Transmitter
    of_transmitter: Sum
    of_service: Sum
    causes: tuple[CauseLine, ...]
    recycles: int
    reliability: Reliability | None
    low_days: int

    @property
    def is_low_too_long(self) -> bool:
        return self.low_days >= LOW_DAYS_WARNED


@dataclass(frozen=True)
class AvailabilityBoard:
    since: datetime
    until: datetime
    lines: tuple[AvailabilityLine, ...]
    has_schedule: bool


def build_availability(
    station: Station, since: datetime, until: datetime, now: datetime
) -> AvailabilityBoard:
    """The span up to now; what is still open counts to its end or to now."""
    last = min(until, now)
    planned: dict[int, list[Span]] = {}
    for one in broadcasts_of(station, since, last) if since < last else ():
        planned.setdefault(one.line.transmitter_id, []).append(span(one.begin, one.end))
    found = losses(station, since, last)
    transmitters = list(Transmitter.objects.filter(station=station))
    standing = standing_points_of_all(transmitters, last - POWER_LOOK_BACK)
    lines = [
        availability_line(
            transmitter,
            low_days(transmitter, standing[transmitter.pk], last),
            planned.get(transmitter.pk, []),
            [loss for loss in found if loss.entry.transmitter_id == transmitter.pk],
            last,
        )
        for transmitter in transmitters
    ]
    return AvailabilityBoard(since, until, tuple(lines), any(planned.values()))


def span(begin: datetime, end: datetime) -> Span:
    return begin.timestamp(), end.timestamp()


def span_of(loss: Loss, last: datetime) -> Span:
    return span(loss.begin, loss.end or max(last, loss.begin))


def agreed_of(loss: Loss, last: datetime) -> Span:
    """The agreed part of planned work: past its agreed end it is lost like any other."""
    begin, end = span_of(loss, last)
    return begin, min(end, max(begin, loss.interruption.agreed_end.timestamp()))


def availability_line(
    transmitter: Transmitter,
    low: int,
    scheduled: Sequence[Span],
    found: Sequence[Loss],
    last: datetime,
) -> AvailabilityLine:
    whole = [loss for loss in found if loss.interruption.power_kw is None]
    reduced = [span_of(loss, last) for loss in found if loss.interruption.power_kw is not None]
    agreed = [agreed_of(loss, last) for loss in whole if loss.interruption.agreed_end]
    lasting = [loss for loss in whole if not is_recycle(loss)]
    own = [loss for loss in lasting if loss.interruption.loss_source != LossSource.FEED]
    spans = [span_of(loss, last) for loss in own]
    return AvailabilityLine(
        transmitter=transmitter,
        of_transmitter=sum_up(scheduled, spans, reduced, agreed),
        of_service=sum_up(scheduled, [span_of(loss, last) for loss in lasting], reduced, agreed),
        causes=tuple(by_cause(lasting, scheduled, last)),
        recycles=sum(loss.interruption.recycles for loss in found) + len(whole) - len(lasting),
        reliability=reliability_of(scheduled, own, last),
        low_days=low,
    )


def low_days(transmitter: Transmitter, standing: pd.DataFrame, last: datetime) -> int:
    """Consecutive days up to ``last`` on which the power was low; days off the air do not count."""
    lowest: dict[date, float] = {}
    for one in on_air_spans(transmitter.pk, standing, last - POWER_LOOK_BACK, last):
        share = (one.power_kw or transmitter.full_power_kw) / transmitter.full_power_kw
        for day in days_of(one.begin, one.end):
            lowest[day] = min(share, lowest.get(day, share))
    return consecutive_low_days([lowest[day] for day in sorted(lowest)], LEAST_SHARE)


def days_of(begin: datetime, end: datetime) -> Iterator[date]:
    """The UTC days that begin <= t < end touches."""
    for number in range((end.date() - begin.date()).days + 1):
        day = begin.date() + timedelta(days=number)
        if datetime.combine(day, time(tzinfo=UTC)) < end:
            yield day


def is_recycle(loss: Loss) -> bool:
    """Shorter than five seconds: counted, and no interruption."""
    return loss.length is not None and loss.length.total_seconds() < RECYCLE_S


def by_cause(found: Iterable[Loss], scheduled: Sequence[Span], last: datetime) -> list[CauseLine]:
    """The greatest loss first."""
    groups: dict[tuple[str, str], list[Loss]] = {}
    for loss in found:
        key = (loss.interruption.loss_source, loss.interruption.cause)
        groups.setdefault(key, []).append(loss)
    lines = [
        CauseLine(
            source=str(LossSource(source).label),
            cause=str(LossCause(cause).label),
            lost_s=length(common(scheduled, [span_of(loss, last) for loss in group])),
            count=len(group),
        )
        for (source, cause), group in groups.items()
    ]
    return sorted(lines, key=lambda line: (-line.lost_s, line.cause))


def reliability_of(
    scheduled: Sequence[Span], own: Sequence[Loss], last: datetime
) -> Reliability | None:
    """Failures of the station's own that cost scheduled time; planned work is none."""
    failures = [
        span_of(loss, last)
        for loss in own
        if loss.interruption.agreed_end is None
        and loss.interruption.loss_source == LossSource.OWN
        and common(scheduled, [span_of(loss, last)])
    ]
    down_h = length(common(scheduled, failures)) / HOUR_S
    hours_up = length(scheduled) / HOUR_S - down_h
    return reliability(hours_up, len(failures), down_h, CONFIDENCE) if hours_up > 0 else None
