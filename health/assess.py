"""Judging what the log holds: what is pending, or all again. One code for both.

What the rules remember at an instant is the episodes that stood then, so judging may start anew
at the earliest minute that a pending entry touches; a rebuild starts at the first.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Max, Min

from health.days import BY_DAYS, DayJudge
from health.drift import store_drifts
from health.frames import judge_frame
from health.memory import forget_from
from health.models import Episode, Judging
from health.rules import episode as pure
from health.rules.judge import Carry, judge
from health.rules.limits import SUPPRESSED
from health.rules.sheets import DAY_MIN
from health.spans import read_span
from health.summaries import first_minute, last_minute, summarise_from
from logbook.models import Correction, Entry, Kind, Reading
from logbook.models.check import WORKS
from logbook.models.entry import EntryQuerySet
from logbook.times import instant_of, minute_of
from station.limits import LimitBook
from station.models import Transmitter

CHUNK_MINUTES = 30 * 24 * 60
MANY = 10_000
MOST_DAYS = 31
MOVES_BASELINES = frozenset({Kind.STATE, Kind.TUBE, Kind.METER})
KEY = ("rule", "meter_id", "first_no")


@dataclass(frozen=True)
class Outcome:
    """How much was judged: pending entries taken, and the first minute judged anew."""

    entries: int = 0
    since: int | None = None


class TooManyWait(Exception):
    """More entries wait than were to be judged at once."""


def assess(
    transmitter: Transmitter,
    *,
    rebuild: bool = False,
    most: int | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> Outcome:
    """Judge a transmitter's pending entries, or everything anew.

    Raises
    ------
    TooManyWait
        If more than ``most`` wait, or more than MOST_DAYS would be judged anew; nothing is then.
    """
    with transaction.atomic():
        judging = locked(transmitter)
        waiting = Entry.objects.filter(transmitter=transmitter, no__gt=judging.judged_no)
        pending = list(waiting.only("pk", "kind", "no"))
        if most is not None and len(pending) > most:
            raise TooManyWait
        since = 0 if rebuild else earliest_minute(judging, pending)
        if most is not None and since is not None and is_wide(judging, transmitter, since):
            raise TooManyWait
        if since is not None:
            judge_from(judging, transmitter, since, progress)
        judging.judged_no = max([judging.judged_no, *(entry.no for entry in pending)])
        judging.rejudge_from = None
        judging.save(update_fields=["judged_no", "rejudge_from", "learned_until"])
    return Outcome(len(pending), since)


def is_wide(judging: Judging, transmitter: Transmitter, since: int) -> bool:
    """Whether many days would be judged anew: what was corrected long after, a log of before."""
    if judging.learned_until:
        return since < judging.learned_until - MOST_DAYS * DAY_MIN
    read = Reading.objects.current().filter(meter__transmitter=transmitter)
    ends = read.aggregate(first=Min("minute"), last=Max("minute"))
    return ends["first"] is not None and ends["last"] - ends["first"] > MOST_DAYS * DAY_MIN


def locked(transmitter: Transmitter) -> Judging:
    found = Judging.objects.select_for_update().filter(transmitter=transmitter).first()
    if found is None:
        Judging.objects.get_or_create(transmitter=transmitter, station=transmitter.station)
        return Judging.objects.select_for_update().get(transmitter=transmitter)
    return found


def earliest_minute(judging: Judging, pending: Sequence[Entry]) -> int | None:
    """The first minute whose judgement a pending entry can change; of very many, the very first."""
    if len(pending) > MANY:
        return 0
    touched = [judging.rejudge_from, *touched_minutes(judging.station_id, pending)]
    return min((minute for minute in touched if minute is not None), default=None)


def touched_minutes(station_id: int, pending: Sequence[Entry]) -> Iterator[int | None]:
    """First minutes of the rounds, and instants of the changes of state, tube or instrument, that
    the entries are or that they correct. By keys that have an index each: an OR over them would
    read every row."""
    keys, kinds = [entry.pk for entry in pending], {entry.kind for entry in pending}
    corrects = Kind.CORRECTION in kinds
    if corrects:
        keys += Correction.objects.filter(entry__in=keys).values_list("of", flat=True)
    of_rounds = Reading.objects.filter(station=station_id, round__in=keys)
    yield of_rounds.current().aggregate(first=Min("minute"))["first"]
    if corrects:
        ended = of_rounds.filter(ended_by__isnull=False)
        yield ended.aggregate(first=Min("minute"))["first"]
    if corrects or kinds & MOVES_BASELINES:
        yield first_of(Entry.objects.filter(pk__in=keys, kind__in=MOVES_BASELINES))
    if corrects or Kind.CHECK in kinds:
        yield first_of(Entry.objects.filter(pk__in=keys, checkmade__topic__in=WORKS))


def first_of(entries: EntryQuerySet) -> int | None:
    first = entries.aggregate(first=Min("observed_at"))["first"]
    return minute_of(first) if first else None


def judge_from(
    judging: Judging, transmitter: Transmitter, since: int, progress: Callable[[float], None]
) -> None:
    """Replace every judgement and summary from the begin of a day on, that of ``since``."""
    book = LimitBook(transmitter)
    meter_ids = [meter.pk for meter in book.meters]
    last = last_minute(meter_ids)
    if since == 0 or not judging.learned_until:
        forget_from(transmitter, 0)
        since = judging.learned_until = first_minute(meter_ids)
    day = min(since, judging.learned_until) // DAY_MIN
    begin, end = day * DAY_MIN, (last // DAY_MIN + 1) * DAY_MIN
    stored = EpisodeStore(transmitter, begin)
    carry = Carry(tuple(stored.by_limits))
    days = DayJudge(judging, book, day, last // DAY_MIN, stored.by_days)
    for chunk in range(begin, end, CHUNK_MINUTES):
        until = min(chunk + CHUNK_MINUTES, end)
        span = read_span(book, chunk, until)
        episodes, carry = judge(judge_frame(book, span), carry)
        stored.save([*episodes, *days.judge(span, episodes)])
        progress((until - begin) / (end - begin))
    summarise_from(judging, transmitter, meter_ids, since, last)
    if day < last // DAY_MIN:
        store_drifts(book, instant_of(last))


class EpisodeStore:
    """A transmitter's flags while they are judged anew from the minute ``begin``. Those that began
    later are taken away; those that stood then are what the rules remember."""

    def __init__(self, transmitter: Transmitter, begin: int) -> None:
        self.transmitter = transmitter
        rows = list(Episode.objects.filter(transmitter=transmitter).after(begin))
        gone = [row.pk for row in rows if row.since_minute >= begin]
        if gone:
            Episode.objects.filter(pk__in=gone).delete()
        stood = [row for row in rows if row.since_minute < begin]
        carried = [pure_episode(row) for row in stood]
        self.ends = {
            one.key: (row.until_minute, row.is_suppressed)
            for one, row in zip(carried, stood, strict=True)
        }
        self.by_limits = [one for one in carried if not one.rule.endswith(BY_DAYS)]
        self.by_days = [one for one in carried if one.rule.endswith(BY_DAYS)]

    def save(self, episodes: Iterable[pure.Episode]) -> None:
        """Insert the new ones and set the end of those that are stored."""
        newest = {episode.key: episode for episode in episodes}
        new = [one for key, one in newest.items() if key not in self.ends]
        if new:
            Episode.objects.bulk_create([unsaved(self.transmitter, one) for one in new])
        for key, one in newest.items():
            end = (one.until, SUPPRESSED in one.evidence)
            if self.ends.get(key, end) != end:
                stored = Episode.objects.filter(transmitter=self.transmitter)
                ended = {"until_minute": one.until, "evidence": one.evidence}
                stored.filter(**dict(zip(KEY, key, strict=True))).update(**ended)
            self.ends[key] = end


def pure_episode(row: Episode) -> pure.Episode:
    """The flag as it was while it stood: how it ended is judged anew."""
    said = {name: value for name, value in row.evidence.items() if name != SUPPRESSED}
    return pure.Episode(
        rule=row.rule,
        meter_id=row.meter_id,
        first_no=row.first_no,
        since=row.since_minute,
        until=None,
        priority=row.priority,
        evidence=said,
    )


def unsaved(transmitter: Transmitter, episode: pure.Episode) -> Episode:
    return Episode(
        station_id=transmitter.station_id,
        transmitter=transmitter,
        meter_id=episode.meter_id,
        rule=episode.rule,
        first_no=episode.first_no,
        since_minute=episode.since,
        until_minute=episode.until,
        priority=episode.priority,
        evidence=episode.evidence,
    )
