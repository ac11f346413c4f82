"""The judge's memory in the database: put together as it was at the begin of any day."""

from collections.abc import Iterable, Mapping

import numpy as np
from django.db.models import Max, Subquery

from health.models import ChannelBaseline, ChannelDay, LearningPoint
from health.rules.baselines import Baseline, Point
from health.rules.channels import Channel
from health.rules.events import Begun
from health.rules.memory import (
    COLUMNS,
    UNSEEN_DAYS,
    Day,
    Key,
    Memory,
    blank_day,
    without,
)
from logbook.inserts import insert
from station.models import Transmitter

BASELINE = ("centre", "between", "within", "runs", "readings", "day", "is_last")
POINT = ("day", "run", "level", "readings", "squares")
OF_DAY = ("channel", "day", "run", *COLUMNS)


def memory_at(
    transmitter: Transmitter, channels: tuple[Channel, ...], day: int, begun: Begun
) -> Memory:
    """All that was remembered at the begin of a day."""
    baselines = stored_baselines(transmitter, day, begun)
    return Memory(
        channels=channels,
        baselines=baselines,
        points=stored_points(transmitter, day, begun, baselines),
        days=stored_days(transmitter, channels, day, begun),
    )


def memory_of_places(
    transmitter: Transmitter,
    channels: tuple[Channel, ...],
    day: int,
    begun: Begun,
    places: Iterable[str],
) -> Memory:
    """As much of it as a day's readings are held against: some places, and the newest day."""
    before = ChannelDay.objects.filter(transmitter=transmitter, day__lt=day)
    newest = Subquery(before.order_by("-day").values("day")[:1])
    days = days_of(transmitter, channels, newest, day, begun)
    return Memory(channels, stored_baselines(transmitter, day, begun, places), days=days)


def stored_baselines(
    transmitter: Transmitter, day: int, begun: Begun, places: Iterable[str] | None = None
) -> dict[Key, Baseline]:
    rows = ChannelBaseline.objects.filter(transmitter=transmitter, day__lt=day)
    if places is not None:
        rows = rows.filter(place__in=set(places))
    found = {}
    for channel, place, *columns in rows.order_by("day").values_list("channel", "place", *BASELINE):
        if columns[-2] >= begun.at(channel, place):
            found[channel, place] = Baseline(*columns)
    return found


def stored_points(
    transmitter: Transmitter, day: int, begun: Begun, baselines: Mapping[Key, Baseline]
) -> dict[Key, tuple[Point, ...]]:
    rows = LearningPoint.objects.filter(transmitter=transmitter, day__lt=day).order_by("day", "pk")
    found: dict[Key, tuple[Point, ...]] = {}
    for channel, place, *columns in rows.values_list("channel", "place", *POINT):
        known = baselines.get((channel, place))
        is_wanted = known is None or not known.is_last
        if is_wanted and columns[0] >= begun.at(channel, place):
            found[channel, place] = (*found.get((channel, place), ()), Point(*columns))
    return found


def stored_days(
    transmitter: Transmitter, channels: tuple[Channel, ...], day: int, begun: Begun
) -> tuple[Day, ...]:
    """The days of the last weeks, and the one before them."""
    own = ChannelDay.objects.filter(transmitter=transmitter, day__lte=day - UNSEEN_DAYS)
    first = own.aggregate(last=Max("day"))["last"]
    return days_of(transmitter, channels, 0 if first is None else first, day, begun)


def days_of(
    transmitter: Transmitter,
    channels: tuple[Channel, ...],
    first: int | Subquery,
    until: int,
    begun: Begun,
) -> tuple[Day, ...]:
    """The days first <= day < until."""
    rows = ChannelDay.objects.filter(transmitter=transmitter, day__gte=first, day__lt=until)
    place = {one.key: column for column, one in enumerate(channels)}
    tables: dict[tuple[int, int], np.ndarray] = {}
    for channel, day, run, *values in rows.order_by("day").values_list(*OF_DAY):
        table = tables.setdefault((day, run), blank_table(day, run, len(channels)))
        if channel in place:
            table[:, place[channel]] = [np.nan if one is None else one for one in values]
    days = [Day(day, run, *table) for (day, run), table in tables.items()]
    began = np.array([begun.of(one.key) for one in channels])
    return tuple(without(one, one.day >= began) for one in days)


def blank_table(day: int, run: int, channels: int) -> np.ndarray:
    blank = blank_day(day, run, channels)
    return np.array([getattr(blank, name) for name in COLUMNS])


def forget_from(transmitter: Transmitter, day: int) -> None:
    """Take away what was learned of a day and of those after it."""
    for model in (ChannelBaseline, LearningPoint, ChannelDay):
        model.objects.filter(transmitter=transmitter, day__gte=day).delete()


def keep(transmitter: Transmitter, before: Memory, after: Memory) -> None:
    """Store what a day added to the memory."""
    day = after.last
    own = transmitter.pk
    of_day = [
        (own, one.key, day.day, day.run, *row)
        for one, row in zip(after.channels, rows_of(day), strict=True)
    ]
    points = [
        (own, *key, *(getattr(point, name) for name in POINT))
        for key, known in after.points.items()
        for point in known
        if point.day == day.day
    ]
    baselines = [
        (own, *key, *(getattr(one, name) for name in BASELINE))
        for key, one in after.baselines.items()
        if before.baselines.get(key) is not one
    ]
    insert(ChannelDay, ["transmitter_id", *OF_DAY], of_day)
    insert(LearningPoint, ["transmitter_id", "channel", "place", *POINT], points)
    insert(ChannelBaseline, ["transmitter_id", "channel", "place", *BASELINE], baselines)


def rows_of(day: Day) -> Iterable[list[float | None]]:
    """A row a channel of COLUMNS, None for NaN."""
    table = np.array([getattr(day, name) for name in COLUMNS]).T.astype(object)
    return [[None if one != one else one for one in row] for row in table.tolist()]
