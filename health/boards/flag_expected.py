"""What a flag by expectation was judged by: its channel, its bound, its baselines, in words."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from health.days import Events
from health.models import ChannelBaseline, ChannelDay, Episode, OfChannel
from health.rules.channels import Channel, MeterFacts, Programme, Weather
from health.rules.consistency import relation_values
from health.rules.days import BACK
from health.rules.events import Begun
from health.rules.memory import SELDOM_DAYS, SHIFT_DAYS
from health.rules.sheets import DAY_MIN
from health.words import SUBJECTS, Subject, sigmas_of, subject_of
from logbook.models import Reading
from logbook.times import instant_of
from station.limits import LimitBook
from station.models import Meter

CONDITIONS = {
    Programme.ON: lazy("with programme"),
    Programme.CARRIER: lazy("on carrier"),
    Weather.DRY: lazy("in dry weather"),
    Weather.WET: lazy("in wet weather"),
}
CENTRE_WITHIN = 1e-5
"""The evidence is rounded: so near lies the baseline that it came from."""


@dataclass(frozen=True)
class BaselineLine:
    """One operating point's baseline: kHz, antenna, kW and how the power was set."""

    place: str
    centre: str
    sigma: str
    runs: int
    readings: int
    until: datetime
    is_last: bool


@dataclass(frozen=True)
class DayLine:
    """A day's mean from the baseline, of so many levels."""

    day: datetime
    mean: str
    levels: int


@dataclass(frozen=True)
class Expected:
    """What was found, from where it is counted, what the rule wants, and the baselines that it was
    held against; of a shift the ``days`` that it is the mean of."""

    found: str
    counted_from: str
    wants: str
    compared: str
    baselines: tuple[BaselineLine, ...]
    days: tuple[DayLine, ...]


class Judged:
    """The channel behind a flag, with its meters in their order, or the channels that carry it; of
    a rule of limits, or of a channel that the register no longer has, the flag's own meter alone.
    """

    def __init__(self, episode: Episode) -> None:
        self.episode = episode
        self.channel: Channel | None = None
        self.carriers: dict[str, Channel] = {}
        self.meters: list[Meter] = [episode.meter]
        self.facts: Mapping[int, MeterFacts] = {}
        key = episode.evidence.get("channel")
        if key is not None:
            self.find(
                [str(key), *(str(one["channel"]) for one in episode.evidence.get("carried", ()))]
            )

    def find(self, keys: Sequence[str]) -> None:
        """The channel of the first key; of several, those that carry a flag together."""
        book = LimitBook(self.episode.transmitter)
        self.events = Events(book)
        setup = self.events.setup_at(self.day)
        by_key = {one.key: one for one in setup.channels if one.key in keys}
        channels = {key: by_key[key] for key in keys if key in by_key}
        if len(keys) > 1:
            self.carriers = channels
        else:
            self.channel = by_key.get(keys[0])
        if channels:
            by_id = {meter.pk: meter for meter in book.meters}
            ids = dict.fromkeys(key for one in channels.values() for key in one.meter_ids)
            self.meters = [by_id[meter_id] for meter_id in ids]
            self.facts = setup.facts

    @property
    def day(self) -> int:
        return self.episode.since_minute // DAY_MIN

    @cached_property
    def begun(self) -> Begun:
        """What began baselines anew before the flag."""
        return self.events.begun_by(self.day)

    def kept(self, model: type[OfChannel]) -> QuerySet[Any]:
        """The channel's rows in the judge's memory."""
        key = self.channel.key if self.channel else ""
        return model.objects.filter(transmitter=self.episode.transmitter, channel=key)

    @property
    def subject(self) -> Subject:
        return subject_of(self.episode.rule)

    def computed(self, rows: Sequence[Mapping[int, Reading]]) -> list[str]:
        """What the meters say together in each round; '' where one of them has no number."""
        if self.channel is None or not self.channel.relation:
            return []
        values = [[number_of(row.get(meter.pk)) for meter in self.meters] for row in rows]
        table = pd.DataFrame(values, columns=[meter.pk for meter in self.meters])
        facts = [self.facts[meter.pk] for meter in self.meters]
        found = relation_values(self.channel.relation, table, facts)
        return ["" if np.isnan(one) else self.subject.number(one, self.meters[0]) for one in found]


def number_of(reading: Reading | None) -> float:
    """NaN without a number: an off-scale bound is none."""
    if reading is None or reading.value is None or reading.bound:
        return np.nan
    return reading.value


def expected_of(judged: Judged) -> Expected | None:
    """None for a flag of another rule."""
    episode, facts = judged.episode, judged.episode.evidence
    bound = facts.get("far", facts.get("reach"))
    if bound is None or episode.rule.rpartition("-")[0] not in SUBJECTS:
        return None
    return Expected(
        found=sigma_words(sigmas_of(episode)),
        counted_from=counted_words(judged.channel, facts),
        wants=_("%(bound).1f sigma or more to either side; it ends below %(back).1f sigma")
        % {"bound": bound, "back": bound * BACK},
        compared=compared_words(judged.channel),
        baselines=tuple(baseline_lines(judged)),
        days=tuple(day_lines(judged)) if "shift" in facts else (),
    )


def counted_words(channel: Channel | None, facts: Mapping[str, float]) -> str:
    """From where a flag is counted; older ones have the baseline alone."""
    if channel is not None and channel.climbs and "shift" in facts:
        return _("where it stood two weeks before")
    usual = sigma_words(facts.get("usual", 0.0))
    return _("where it usually stands: %(usual)s from the baseline") % {"usual": usual}


def compared_words(channel: Channel | None) -> str:
    """Of which rounds the channel speaks: 'with programme, in dry weather', '' of all."""
    if channel is None:
        return ""
    words = (CONDITIONS.get(one) for one in (channel.programme, channel.weather) if one)
    return ", ".join(str(one) for one in words)


def baseline_lines(judged: Judged) -> Iterator[BaselineLine]:
    """The baselines in force when the flag began; of a departure the one it departed from."""
    for row in baselines_in_force(judged):
        centre = judged.episode.evidence.get("centre")
        if centre is None or abs(row.centre - centre) <= CENTRE_WITHIN:
            yield baseline_line(judged, row)


def baselines_in_force(judged: Judged) -> list[ChannelBaseline]:
    if judged.channel is None:
        return []
    rows = judged.kept(ChannelBaseline).filter(day__lt=judged.day).order_by("day")
    key = judged.channel.key
    newest = {row.place: row for row in rows if row.day >= judged.begun.at(key, row.place)}
    return [newest[place] for place in sorted(newest)]


def baseline_line(judged: Judged, row: ChannelBaseline) -> BaselineLine:
    meter = judged.meters[0]
    return BaselineLine(
        place=row.place.strip() or _("any"),
        centre=judged.subject.amount(row.centre, meter),
        sigma=f"{np.hypot(row.between, row.within):.2g}",
        runs=row.runs,
        readings=row.readings,
        until=instant_of(row.day * DAY_MIN),
        is_last=row.is_last,
    )


def day_lines(judged: Judged) -> Iterator[DayLine]:
    """The days with any level, as many as a shift is the mean of."""
    if judged.channel is None:
        return
    length = SHIFT_DAYS if judged.channel.is_each_round else SELDOM_DAYS
    first = max(judged.begun.of(judged.channel.key), judged.day + 1 - length)
    rows = judged.kept(ChannelDay).filter(day__gte=first, day__lte=judged.day, count__gt=0)
    for row in rows.order_by("day"):
        mean = sigma_words(row.total / row.count)
        yield DayLine(instant_of(row.day * DAY_MIN), mean, int(row.count))


def sigma_words(sigmas: float) -> str:
    """'+2.8 sigma'; never '-0.0'."""
    return _("%(sigmas)+.1f sigma") % {"sigmas": round(sigmas, 1) + 0.0}
