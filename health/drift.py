"""Drifts of a transmitter: the seam from the judge's memory and the log to ``statistics.drift``.

What drifts is stored when a day has ended; of a day before that it is computed anew.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import cached_property

import numpy as np
import numpy.typing as npt
from django.db.models import Avg, Count, F, Q, QuerySet

from health.days import Events
from health.models import ChannelBaseline, ChannelDay, Drift
from health.rules.channels import Channel, Heeds, Programme
from health.rules.consistency import IN_OWN_UNIT
from health.rules.events import Begun
from health.rules.sheets import DAY_MIN
from health.statistics.drift import (
    FEWEST_WEEKS,
    MONDAY,
    WEEK_DAYS,
    Drifting,
    Grain,
    days_to_limit,
    drift_of,
    hours_by_day,
)
from logbook.frames import stated_states
from logbook.times import instant_of, minute_of
from station.limits import LimitBook, Place
from station.models import Meter
from station.states import ON_AIR_STATES, Modulation, PowerSetBy, State

Numbers = npt.NDArray[np.float64]
ON_THE_AIR = sorted(str(state) for state in ON_AIR_STATES)


def drifts_of(limits: LimitBook, as_of: datetime) -> list[Drift]:
    """What drifts at an instant: the channels whose slope is told from none."""
    book = DriftBook(limits, as_of)
    return [drift for drift in book.drifts(book.channels) if drift.is_told]


def store_drifts(book: LimitBook, as_of: datetime) -> None:
    """Keep the drifts when a day has ended, for the pages."""
    drifts = DriftBook(book, as_of)
    Drift.objects.filter(transmitter=book.transmitter).delete()
    Drift.objects.bulk_create(drifts.drifts(drifts.channels))


def drifts_of_meter(limits: LimitBook, meter: Meter, as_of: datetime) -> list[Drift]:
    """Every channel whose flags hang on a meter, drifting or not: as stored, unless that is of a
    later day."""
    own = Drift.objects.filter(transmitter=limits.transmitter, meter=meter)
    stored = list(own.select_related("meter", "transmitter").order_by("pk"))
    if stored and stored[0].day < minute_of(as_of) // DAY_MIN:
        return stored
    book = DriftBook(limits, as_of)
    return list(book.drifts([one for one in book.channels if one.meter_id == meter.pk]))


class DriftBook:
    """What the drifts of a transmitter are made of, read once."""

    def __init__(self, book: LimitBook, as_of: datetime) -> None:
        self.book = book
        self.as_of = as_of
        self.today = minute_of(as_of) // DAY_MIN
        self.meters = {meter.pk: meter for meter in book.meters}
        self.events = Events(book)

    @property
    def channels(self) -> list[Channel]:
        """Those that are judged for slow changes: the others only help to ask about slips, or the
        weather moves them."""
        known = self.events.setup_at(self.today).channels
        return [one for one in known if one.is_judged and one.is_steady]

    @cached_property
    def begun(self) -> Begun:
        return self.events.begun_by(self.today)

    def drifts(self, channels: Sequence[Channel]) -> Iterator[Drift]:
        found = self.found(channels)
        for one in channels:
            yield self.drift(one, found.get(one.key))

    def found(self, channels: Sequence[Channel]) -> Mapping[str, Drifting | None]:
        """By channel, of those with any day: by the week where weeks enough speak."""
        weeks = self.weeks_of(channels)
        long = {key: rows for key, rows in weeks.items() if len(rows) >= FEWEST_WEEKS}
        short = self.days_of([one for one in channels if one.key not in long])
        points = [
            (key, grain, np.array(rows))
            for grain, of_grain in ((Grain.WEEK, long), (Grain.DAY, short))
            for key, rows in of_grain.items()
        ]
        first = min((int(rows[0, 0]) for _key, _grain, rows in points), default=self.today)
        hours = self.hours_from(first) if points else np.empty(0)
        found = {}
        for key, grain, rows in points:
            day, offset, days = rows.T
            ran = np.interp(day - first, np.arange(hours.size), hours)
            found[key] = drift_of(day, offset, ran, days=int(days.sum()), grain=grain)
        return found

    def weeks_of(self, channels: Sequence[Channel]) -> dict[str, list[tuple[float, ...]]]:
        """Mean day and offset of each week that speaks, and how many days it has, by channel."""
        weeks = self.rows_of(channels).annotate(week=(F("day") - MONDAY) / WEEK_DAYS)
        means = weeks.values("channel", "week").annotate(Avg("day"), Avg("offset"), Count("day"))
        return by_channel(
            means.order_by("channel", "week").values_list(
                "channel", "day__avg", "offset__avg", "day__count"
            )
        )

    def days_of(self, channels: Sequence[Channel]) -> dict[str, list[tuple[float, ...]]]:
        """Day and offset of each day that speaks, by channel."""
        rows = self.rows_of(channels).order_by("channel", "day")
        return by_channel((*row, 1) for row in rows.values_list("channel", "day", "offset"))

    def rows_of(self, channels: Sequence[Channel]) -> QuerySet[ChannelDay]:
        """The days with an offset up to today, of each channel from its newest event on."""
        keys: dict[int, list[str]] = {}
        for one in channels:
            keys.setdefault(self.begun.of(one.key), []).append(one.key)
        wanted = Q(pk=None)
        for begun, own in keys.items():
            wanted |= Q(channel__in=own, day__gte=begun)
        of = ChannelDay.objects.filter(transmitter=self.book.transmitter, day__lte=self.today)
        return of.filter(wanted, offset__isnull=False)

    def hours_from(self, first: int) -> Numbers:
        """Hours on the air up to the end of each day from ``first`` to today."""
        key, begin = self.book.transmitter.pk, instant_of(first * DAY_MIN)
        at, states = stated_states([key], begin, self.as_of)[key]
        days = np.arange(first, self.today + 1)
        return hours_by_day(at, np.isin(states, ON_THE_AIR), days, minute_of(self.as_of) / 60)

    def drift(self, channel: Channel, found: Drifting | None) -> Drift:
        """``found`` None is 'not enough data'."""
        meter = self.meters[channel.meter_id]
        drift = Drift(
            transmitter=self.book.transmitter,
            meter=meter,
            channel=channel.key,
            day=self.today - 1,
            relation=channel.relation,
            programme=channel.programme,
            weather=channel.weather,
            unit=meter.unit if channel.relation in IN_OWN_UNIT else "%",
            since=self.begun.of(channel.key) or None,
        )
        if found:
            drift.days, drift.points, drift.grain = found.days, found.points, found.grain
            drift.p = found.p
            drift.slope_per_1000h = found.slope.slope
            drift.low, drift.high = found.slope.low, found.slope.high
            self.set_limit(drift, channel, found)
        return drift

    def set_limit(self, drift: Drift, channel: Channel, found: Drifting) -> None:
        """The alarm towards which it drifts, and when that is reached."""
        is_rising = found.slope.slope > 0
        drift.limit = self.limit_of(channel, is_rising)
        level = self.level_of(channel, is_rising) if found.is_told else None
        if drift.limit is not None and level is not None:
            days = days_to_limit(found, drift.limit - level, minute_of(self.as_of) / DAY_MIN)
            if days is not None:
                drift.days_low, drift.days_high = days.low, days.high

    def limit_of(self, channel: Channel, is_rising: bool) -> float | None:
        """The alarm on one side at full power on the air; relations have none."""
        if channel.relation:
            return None
        is_on = channel.programme == Programme.ON
        place = Place(
            State.ON_AIR,
            None,
            self.book.transmitter.full_power_kw,
            PowerSetBy.TAP,
            Modulation.ON if is_on else Modulation.CARRIER,
        )
        band = self.book.band(self.meters[channel.meter_id], place, self.as_of)
        return band.high_alarm if is_rising else band.low_alarm

    def level_of(self, channel: Channel, is_rising: bool) -> float | None:
        """What it reads by its baseline at full power, on the wave nearest to the limit."""
        of = ChannelBaseline.objects.filter(
            transmitter=self.book.transmitter,
            channel=channel.key,
        )
        rows = of.order_by("day").values_list("place", "day", "centre")
        newest = {
            place: centre for place, day, centre in rows if day >= self.begun.at(channel.key, place)
        }
        full = f"{self.book.transmitter.full_power_kw:g}"
        own = [
            centre for place, centre in newest.items() if is_at_power(channel.heeds, place, full)
        ]
        return (max if is_rising else min)(own, default=None)


def by_channel(rows: Iterable[tuple]) -> dict[str, list[tuple[float, ...]]]:
    found: dict[str, list[tuple[float, ...]]] = {}
    for key, *values in rows:
        found.setdefault(key, []).append(tuple(values))
    return found


def is_at_power(heeds: Heeds, place: str, power: str) -> bool:
    """Whether the word of an operating point tells of a power; the last but one says it."""
    return heeds == Heeds.NOTHING or place.split(" ")[-2] == power
