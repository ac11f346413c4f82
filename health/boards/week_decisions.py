"""What the week asks the engineer to decide, what it costs most to ignore first."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd
from django.db.models import F
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from health.boards.flags import waiting_lines
from health.drift_words import drift_words
from health.models import Drift
from health.pending import pending_entries
from health.statistics.drift import TOLD_BELOW
from logbook.due import slots_asked
from logbook.models import Correction, Reading, ReadingCode, Round
from logbook.queries import intervals_asked, slots_taken
from logbook.times import log_day_of, minute_of
from logbook.words import correction_words
from station.models import Limit, Station, Transmitter

KINDS = {
    "low-water": -1,
    "stale": 0,
    "standing": 1,
    "pending": 2,
    "missed": 3,
    "to-re-read": 4,
    "limit": 5,
    "drift": 6,
    "correction": 7,
    "late": 8,
}


Counted = Callable[[int], str]


@dataclass(frozen=True)
class Decision:
    """One line of the list: ``level`` draws it, ``address`` leads to its readings."""

    kind: str
    level: str
    code: str
    words: str
    address: str

    @property
    def rank(self) -> tuple[int, str]:
        return KINDS[self.kind], self.code


def decisions(
    station: Station,
    transmitters: Sequence[Transmitter],
    standing: Mapping[int, pd.DataFrame],
    *,
    since: datetime,
    until: datetime,
    now: datetime,
) -> tuple[Decision, ...]:
    span = {"since": since, "until": min(until, now)}
    found = [
        *standing_flags(station, now),
        *not_judged_yet(transmitters),
        *missed_rounds(transmitters, standing, **span),
        *late_rounds(station, **span),
        *to_re_read(station, **span),
        *changed_limits(station, **span),
        *drifts(transmitters),
        *corrections_made(station, **span),
    ]
    return tuple(sorted(found, key=lambda one: one.rank))


def standing_flags(station: Station, now: datetime) -> Iterator[Decision]:
    for line in waiting_lines(station, now):
        kind = "stale" if line.is_stale else "standing"
        yield Decision(
            kind="low-water" if line.is_first_of_all else kind,
            level=line.life,
            code=line.episode.transmitter.code,
            words=line.told,
            address=line.episode.get_absolute_url(),
        )


def drifts(transmitters: Sequence[Transmitter]) -> Iterator[Decision]:
    """What drifts, each leading to the history of its meter."""
    stored = Drift.objects.filter(transmitter__in=transmitters, p__lt=TOLD_BELOW)
    known = stored.select_related("meter", "transmitter").order_by("transmitter", "pk")
    for drift in (one for one in known if one.is_told):
        code = drift.transmitter.code
        address = reverse("history", args=(code, drift.meter.code))
        yield Decision("drift", "drifting", code, drift_words(drift), address)


def not_judged_yet(transmitters: Sequence[Transmitter]) -> Iterator[Decision]:
    count = pending_entries(transmitters).count()
    if count:
        words = ngettext("%(n)s entry is not judged yet", "%(n)s entries are not judged yet", count)
        yield Decision("pending", "pending", "", words % {"n": count}, reverse("hall"))


def missed_rounds(
    transmitters: Sequence[Transmitter],
    standing: Mapping[int, pd.DataFrame],
    *,
    since: datetime,
    until: datetime,
) -> Iterator[Decision]:
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
) -> Iterator[Decision]:
    """One line for every log day that has any, leading to its sheet."""
    days = pd.Series([log_day_of(transmitter.station, at) for at in instants], dtype=object)
    for day, count in days.value_counts(sort=False).sort_index().items():
        yield Decision(
            kind,
            level,
            transmitter.code,
            _("%(what)s on %(day)s") % {"what": words(int(count)), "day": day.isoformat()},
            reverse("day_sheet", args=(transmitter.code, day.isoformat())),
        )


def late_rounds(station: Station, *, since: datetime, until: datetime) -> Iterator[Decision]:
    late_after = timedelta(minutes=station.late_after_min)
    late = (
        Round.objects.filter(station=station, slot__gte=since, slot__lt=until)
        .filter(duplicate_of__isnull=True, entry__ended_by__isnull=True)
        .filter(entry__observed_at__gt=F("slot") + late_after)
        .values_list("entry__transmitter_id", "slot")
    )
    yield from grouped(station, list(late), "late", "late", late_words)


def to_re_read(station: Station, *, since: datetime, until: datetime) -> Iterator[Decision]:
    kept = (
        Reading.objects.current()
        .filter(station=station, code=ReadingCode.TO_RE_READ)
        .filter(minute__gte=minute_of(since), minute__lt=minute_of(until))
        .values_list("meter__transmitter_id", "round__slot")
    )
    yield from grouped(station, list(kept), "to-re-read", "to-re-read", re_read_words)


def grouped(
    station: Station, rows: list[tuple[int, datetime]], kind: str, level: str, words: Counted
) -> Iterator[Decision]:
    for one in Transmitter.objects.filter(station=station).select_related("station"):
        yield from by_day(one, [at for key, at in rows if key == one.pk], kind, level, words)


def changed_limits(station: Station, *, since: datetime, until: datetime) -> Iterator[Decision]:
    changed = Limit.objects.filter(
        station=station, valid_from__gte=since, valid_from__lt=until
    ).select_related("meter__transmitter", "author")
    for limit in changed:
        who = limit.author.written_name if limit.author else _("the register file")
        yield Decision(
            "limit",
            "recomputed",
            limit.meter.transmitter.code,
            _("limit of %(meter)s changed by %(who)s: %(reason)s")
            % {"meter": limit.meter.label, "who": who, "reason": limit.reason},
            reverse("flags"),
        )


def corrections_made(station: Station, *, since: datetime, until: datetime) -> Iterator[Decision]:
    made = Correction.objects.filter(
        station=station, entry__entered_at__gte=since, entry__entered_at__lt=until
    ).select_related("entry__transmitter", "of")
    for correction in made.order_by("entry__no"):
        yield Decision(
            "correction",
            "struck",
            correction.entry.transmitter.code if correction.entry.transmitter else "",
            _("%(what)s: %(reason)s")
            % {"what": correction_words(correction), "reason": correction.reason},
            reverse("entry", args=(correction.entry.no,)),
        )
