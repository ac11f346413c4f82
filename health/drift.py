"""Drifts of a transmitter: the seam from the judge's memory and the log to ``statistics.drift``."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property

import numpy as np
import numpy.typing as npt

from health.days import Events
from health.models import ChannelBaseline, ChannelDay, StoredDrift
from health.rules.channels import Channel, Heeds, Programme
from health.rules.consistency import HT_SUM
from health.rules.sheets import DAY_MIN
from health.statistics.drift import Days, Drifting, days_to_limit, drift_of, hours_by_day
from logbook.frames import stated_states
from logbook.times import instant_of, minute_of
from station.limits import LimitBook, Place
from station.models import Meter, Transmitter
from station.states import ON_AIR_STATES, Modulation, PowerSetBy, State

Numbers = npt.NDArray[np.float64]
ON_THE_AIR = sorted(str(state) for state in ON_AIR_STATES)
Found = Mapping[str, Drifting | None]


@dataclass(frozen=True)
class Drift:
    """How a channel of a meter drifts, in ``unit``.

    ``limit`` is the alarm on the side towards which it drifts, at full power on the air; None where
    there is none, or none of a relation. ``at_limit``: in how many days it is reached, None for 'no
    reliable date'. ``since`` is the day of the newest event that began it anew, None without one.
    """

    transmitter: Transmitter
    meter: Meter
    channel: Channel
    found: Drifting
    limit: float | None
    at_limit: Days | None
    since: date | None

    @property
    def relation(self) -> str:
        return self.channel.relation

    @property
    def programme(self) -> str:
        return self.channel.programme

    @property
    def weather(self) -> str:
        return self.channel.weather

    @property
    def is_told(self) -> bool:
        return self.found.is_told

    @property
    def slope_per_1000h(self) -> float:
        return self.found.slope.slope

    @property
    def low(self) -> float:
        return self.found.slope.low

    @property
    def high(self) -> float:
        return self.found.slope.high

    @property
    def days_low(self) -> float | None:
        return self.at_limit.low if self.at_limit else None

    @property
    def days_high(self) -> float | None:
        return self.at_limit.high if self.at_limit else None

    @property
    def points(self) -> int:
        return self.found.points

    @property
    def unit(self) -> str:
        """The meter's, and per cent of a relation's usual value."""
        return self.meter.unit if self.channel.relation in ("", HT_SUM) else "%"


@dataclass(frozen=True)
class ChannelDrift:
    """A channel that is judged; ``drift`` None is 'not enough data'."""

    meter: Meter
    channel: Channel
    drift: Drift | None


def drifts_of(limits: LimitBook, as_of: datetime) -> list[Drift]:
    """What drifts now: the channels whose slope is told from none."""
    book = DriftBook(limits, as_of)
    known = (one.drift for one in book.drifts(book.channels, book.found(book.channels)))
    return [drift for drift in known if drift is not None and drift.is_told]


def store_drifts(book: LimitBook, as_of: datetime) -> None:
    """Keep what drifts when a day has ended: the boards of a whole station read it in one query."""
    StoredDrift.objects.filter(transmitter=book.transmitter).delete()
    StoredDrift.objects.bulk_create(
        StoredDrift(
            transmitter=book.transmitter,
            meter=one.meter,
            relation=one.channel.relation,
            programme=one.channel.programme,
            weather=one.channel.weather,
            unit=one.unit,
            slope_per_1000h=one.slope_per_1000h,
            low=one.low,
            high=one.high,
            limit=one.limit,
            days_low=one.days_low,
            days_high=one.days_high,
        )
        for one in drifts_of(book, as_of)
    )


def drifts_of_meter(limits: LimitBook, meter: Meter, as_of: datetime) -> list[ChannelDrift]:
    """Every channel whose flags hang on a meter, drifting or not."""
    book = DriftBook(limits, as_of)
    own = [one for one in book.channels if one.meter_id == meter.pk]
    return list(book.drifts(own, book.found(own)))


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
        """Those that are judged: the others only help to ask about slips."""
        return [one for one in self.events.setup_at(self.today).channels if one.is_judged]

    @cached_property
    def begun(self) -> Mapping[str, int]:
        return self.events.begun_by(self.today)

    def drifts(self, channels: Iterable[Channel], found: Found) -> Iterator[ChannelDrift]:
        for one in channels:
            own = found[one.key]
            drift = self.drift(one, own) if own else None
            yield ChannelDrift(self.meters[one.meter_id], one, drift)

    def found(self, channels: Iterable[Channel]) -> Found:
        rows = self.rows_of(channels)
        first = min((int(own[0, 0]) for own in rows.values()), default=self.today)
        hours = self.hours_from(first) if rows else np.empty(0)
        found: dict[str, Drifting | None] = {}
        for one in channels:
            own = rows.get(one.key, np.empty((0, 2)))
            found[one.key] = drift_of(own[:, 0], own[:, 1], hours[own[:, 0].astype(int) - first])
        return found

    def rows_of(self, channels: Iterable[Channel]) -> dict[str, Numbers]:
        """Day and offset of each day that speaks, by channel, from its newest event on."""
        of = ChannelDay.objects.filter(transmitter=self.book.transmitter, offset__isnull=False)
        rows: dict[str, list[tuple[int, float]]] = {}
        wanted = of.filter(channel__in=[one.key for one in channels], day__lte=self.today)
        days = wanted.order_by("channel", "day").values_list("channel", "day", "offset")
        for key, day, offset in days.iterator(chunk_size=20000):
            if day >= self.begun.get(key, 0):
                rows.setdefault(key, []).append((day, offset))
        return {key: np.array(own) for key, own in rows.items()}

    def hours_from(self, first: int) -> Numbers:
        """Hours on the air up to the end of each day from ``first`` to today."""
        key, begin = self.book.transmitter.pk, instant_of(first * DAY_MIN)
        at, states = stated_states([key], begin, self.as_of)[key]
        days = np.arange(first, self.today + 1)
        return hours_by_day(at, np.isin(states, ON_THE_AIR), days, minute_of(self.as_of) / 60)

    def drift(self, channel: Channel, found: Drifting) -> Drift:
        is_rising = found.slope.slope > 0
        limit = self.limit_of(channel, is_rising)
        level = self.level_of(channel, is_rising) if limit is not None and found.is_told else None
        at_limit = None
        if limit is not None and level is not None:
            at_limit = days_to_limit(found, limit - level, minute_of(self.as_of) / DAY_MIN)
        began = self.begun.get(channel.key)
        return Drift(
            transmitter=self.book.transmitter,
            meter=self.meters[channel.meter_id],
            channel=channel,
            found=found,
            limit=limit,
            at_limit=at_limit,
            since=None if began is None else instant_of(began * DAY_MIN).date(),
        )

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
            day__gte=self.begun.get(channel.key, 0),
        )
        newest = dict(of.order_by("day").values_list("place", "centre"))
        full = f"{self.book.transmitter.full_power_kw:g}"
        own = [
            centre for place, centre in newest.items() if is_at_power(channel.heeds, place, full)
        ]
        return (max if is_rising else min)(own, default=None)


def is_at_power(heeds: Heeds, place: str, power: str) -> bool:
    """Whether the word of an operating point tells of a power; the last but one says it."""
    return heeds == Heeds.NOTHING or place.split(" ")[-2] == power
