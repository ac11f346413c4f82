"""What the week asks the engineer to decide: a function for each kind of item.

A new kind is one more function that gives items, named in ``items_of``.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from math import floor, inf

import pandas as pd
from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from health.boards.flags import waiting_lines
from health.boards.symptoms import symptom_words, symptoms_of
from health.boards.week_items import WEIGHT, Cost, Item
from health.drift_words import drift_words
from health.models import Drift, Episode
from health.pending import pending_entries
from health.statistics.drift import TOLD_BELOW
from health.symptoms import newest_matches
from health.words import flag_words
from logbook.due import slots_asked
from logbook.models import Correction, Reading, ReadingCode, Round
from logbook.queries import intervals_asked, slots_taken
from logbook.times import instant_of, log_day_of, minute_of
from logbook.words import correction_words
from station.models import Limit, Priority, Station, Transmitter

SOONER = 7.0
"""[d] A drift is worse than it was where its limit is reached earlier by more than the time from
one review to the next: common practice, no source."""

COSTS = {"missed": Cost.EVIDENCE, "to-re-read": Cost.EVIDENCE, "late": Cost.FORMALITY}

Counted = Callable[[int], str]


def items_of(
    station: Station,
    transmitters: Sequence[Transmitter],
    standing: Mapping[int, pd.DataFrame],
    *,
    since: datetime,
    until: datetime,
    now: datetime,
) -> Iterator[Item]:
    """What there is to be decided, of a span where it is about what happened."""
    span = {"since": since, "until": until}
    yield from standing_flags(station, now)
    yield from symptoms(transmitters, **span)
    yield from drifts(transmitters)
    yield from not_judged_yet(transmitters)
    yield from missed_rounds(transmitters, standing, **span)
    yield from to_re_read(station, **span)
    yield from late_rounds(station, **span)
    yield from changed_limits(station, **span)
    yield from corrections_made(station, **span)


def standing_flags(station: Station, now: datetime) -> Iterator[Item]:
    for line in waiting_lines(station, now):
        kind = "stale" if line.is_stale else "standing"
        item = replace(flag_item(line.episode, kind, line.life), words=line.told)
        yield replace(item, order=(-inf,)) if line.is_first_of_all else item


def ended_flags(station: Station, since: datetime, until: datetime) -> Iterator[Item]:
    """The flags that stood in a span, at its begin or at its end, and have ended."""
    begin, end = minute_of(since), minute_of(until)
    at_an_edge = Q(since_minute__lt=begin) | Q(until_minute__gte=end)
    ended = Episode.objects.filter(at_an_edge, station=station, until_minute__gte=begin)
    for episode in ended.filter(since_minute__lt=end).select_related("meter", "transmitter"):
        yield flag_item(episode, "ended", "returned")


def flag_item(episode: Episode, kind: str, level: str) -> Item:
    """Of equal priority the oldest flag is first."""
    weight, code = WEIGHT[episode.priority], episode.transmitter.code
    return Item(
        kind,
        level,
        code,
        flag_words(episode),
        episode.get_absolute_url(),
        key=f"flag/{code}/{episode.meter.code}/{episode.rule}/{episode.first_no}",
        cost=Cost.PROTECTION if episode.priority == Priority.HIGH else Cost.AIR_TIME,
        order=(-weight, episode.since_minute),
        began=episode.since,
        measure=weight,
        meter=episode.meter,
    )


def symptoms(
    transmitters: Sequence[Transmitter], *, since: datetime, until: datetime
) -> Iterator[Item]:
    """What the flags of each transmitter were consistent with when it was last matched."""
    for one in newest_matches(transmitters, minute_of(since), minute_of(until)):
        first = symptoms_of(one).first
        if first is not None:
            code = one.transmitter.code
            yield Item(
                "symptom",
                "consistent",
                code,
                symptom_words(first),
                reverse("flags"),
                key=f"symptom/{code}/{first.id}/{first.part}",
                cost=Cost.AIR_TIME,
                began=instant_of(one.minute),
            )


def drifts(transmitters: Sequence[Transmitter]) -> Iterator[Item]:
    """What drifts, each leading to the history of its meter; what reaches its limit soonest is
    first, what has no date last."""
    stored = Drift.objects.filter(transmitter__in=transmitters, p__lt=TOLD_BELOW)
    known = stored.select_related("meter", "transmitter").order_by("transmitter", "pk")
    for drift in (one for one in known if one.is_told):
        code, soonest = drift.transmitter.code, drift.days_low
        yield Item(
            "drift",
            "drifting",
            code,
            drift_words(drift),
            reverse("history", args=(code, drift.meter.code)),
            key=f"drift/{code}/{drift.channel}",
            cost=Cost.SLOW_CHANGE,
            order=(inf if soonest is None else soonest,),
            measure=None if soonest is None else -float(drift.day + 1 + floor(soonest)),
            slack=SOONER,
            meter=drift.meter,
        )


def not_judged_yet(transmitters: Sequence[Transmitter]) -> Iterator[Item]:
    count = pending_entries(transmitters).count()
    if count:
        words = ngettext("%(n)s entry is not judged yet", "%(n)s entries are not judged yet", count)
        yield Item(
            "pending",
            "pending",
            "",
            words % {"n": count},
            reverse("hall"),
            key="pending",
            cost=Cost.EVIDENCE,
            order=(-1.0,),
        )


def missed_rounds(
    transmitters: Sequence[Transmitter],
    standing: Mapping[int, pd.DataFrame],
    *,
    since: datetime,
    until: datetime,
) -> Iterator[Item]:
    """By transmitter and log day; a slot that is still open is not missed."""
    asked, taken = intervals_asked(transmitters), slots_taken(transmitters, since, until)
    for one in transmitters:
        slots = slots_asked(standing[one.pk], asked[one.pk], since, until)
        missed = [s.at for s in slots if s.at not in taken[one.pk] and s.closes <= until]
        yield from by_day(one, missed, "missed", "missing", missed_words)


def missed_words(count: int) -> str:
    return ngettext("%(n)s round missed", "%(n)s rounds missed", count) % {"n": count}


def late_words(count: int) -> str:
    return ngettext("%(n)s round late", "%(n)s rounds late", count) % {"n": count}


def re_read_words(count: int) -> str:
    return ngettext("%(n)s value to be re-read", "%(n)s values to be re-read", count) % {"n": count}


def by_day(
    transmitter: Transmitter, instants: Iterable[datetime], kind: str, level: str, words: Counted
) -> Iterator[Item]:
    """One item for every log day that has any, leading to its sheet."""
    days: dict[date, list[datetime]] = defaultdict(list)
    for instant in instants:
        days[log_day_of(transmitter.station, instant)].append(instant)
    for day, of_day in sorted(days.items()):
        yield Item(
            kind,
            level,
            transmitter.code,
            _("%(what)s on %(day)s") % {"what": words(len(of_day)), "day": day.isoformat()},
            reverse("day_sheet", args=(transmitter.code, day.isoformat())),
            key=f"{kind}/{transmitter.code}/{day.isoformat()}",
            cost=COSTS[kind],
            began=min(of_day),
            measure=len(of_day),
            is_dated=True,
        )


def late_rounds(station: Station, *, since: datetime, until: datetime) -> Iterator[Item]:
    late_after = timedelta(minutes=station.late_after_min)
    late = (
        Round.objects.filter(station=station, slot__gte=since, slot__lt=until)
        .filter(duplicate_of__isnull=True, entry__ended_by__isnull=True)
        .filter(entry__observed_at__gt=F("slot") + late_after)
        .values_list("entry__transmitter_id", "slot")
    )
    yield from grouped(station, list(late), "late", "late", late_words)


def to_re_read(station: Station, *, since: datetime, until: datetime) -> Iterator[Item]:
    kept = (
        Reading.objects.current()
        .filter(station=station, code=ReadingCode.TO_RE_READ)
        .filter(minute__gte=minute_of(since), minute__lt=minute_of(until))
        .values_list("meter__transmitter_id", "round__slot")
    )
    yield from grouped(station, list(kept), "to-re-read", "to-re-read", re_read_words)


def grouped(
    station: Station, rows: list[tuple[int, datetime]], kind: str, level: str, words: Counted
) -> Iterator[Item]:
    for one in Transmitter.objects.filter(station=station).select_related("station"):
        yield from by_day(one, [at for key, at in rows if key == one.pk], kind, level, words)


def changed_limits(station: Station, *, since: datetime, until: datetime) -> Iterator[Item]:
    changed = Limit.objects.filter(
        station=station, valid_from__gte=since, valid_from__lt=until
    ).select_related("meter__transmitter", "author")
    for limit in changed:
        who = limit.author.written_name if limit.author else _("the register file")
        code = limit.meter.transmitter.code
        yield Item(
            "limit",
            "changed",
            code,
            _("limit of %(meter)s changed by %(who)s: %(reason)s")
            % {"meter": limit.meter.label, "who": who, "reason": limit.reason},
            reverse("history", args=(code, limit.meter.code)),
            key=f"limit/{code}/{limit.pk}",
            cost=Cost.FORMALITY,
            began=limit.valid_from,
            meter=limit.meter,
            is_dated=True,
        )


def corrections_made(station: Station, *, since: datetime, until: datetime) -> Iterator[Item]:
    made = Correction.objects.filter(
        station=station, entry__entered_at__gte=since, entry__entered_at__lt=until
    ).select_related("entry__transmitter", "of")
    for correction in made.order_by("entry__no"):
        entry = correction.entry
        code = entry.transmitter.code if entry.transmitter else ""
        yield Item(
            "correction",
            "struck",
            code,
            _("%(what)s: %(reason)s")
            % {"what": correction_words(correction), "reason": correction.reason},
            reverse("entry", args=(entry.no,)),
            key=f"correction/{code}/{entry.no}",
            cost=Cost.FORMALITY,
            began=entry.entered_at,
            is_dated=True,
        )
