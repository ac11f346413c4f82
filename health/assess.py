"""Judging what the log holds: what is pending, or all again. One code for both.

What the rules remember at an instant is the episodes that stood then, so judging may start anew
at the earliest minute that a pending entry touches; a rebuild starts at the first.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Max, Min, Q

from health.frames import judge_frame
from health.models import Episode, Judging
from health.references import learn
from health.rules import episode as pure
from health.rules.judge import Carry, judge
from health.summaries import summarise_from
from logbook.models import Correction, Entry, Kind, Reading
from logbook.times import minute_of
from station.limits import LimitBook
from station.models import Transmitter

CHUNK_MINUTES = 30 * 24 * 60
MANY = 10_000
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
        If more than ``most`` wait; nothing is judged then.
    """
    with transaction.atomic():
        judging = locked(transmitter)
        waiting = Entry.objects.filter(transmitter=transmitter, no__gt=judging.judged_no)
        pending = list(waiting.only("pk", "kind", "no"))
        if most is not None and len(pending) > most:
            raise TooManyWait
        since = 0 if rebuild else earliest_minute(judging, pending)
        if since is not None:
            judge_from(judging, transmitter, since, progress)
        judging.judged_no = max([judging.judged_no, *(entry.no for entry in pending)])
        judging.rejudge_from = None
        judging.save(update_fields=["judged_no", "rejudge_from"])
    return Outcome(len(pending), since)


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
    """First minutes of the rounds, and instants of the changes of state, that the entries are or
    that they correct. By keys that have an index each: an OR over them would read every row."""
    keys, kinds = [entry.pk for entry in pending], {entry.kind for entry in pending}
    corrects = Kind.CORRECTION in kinds
    if corrects:
        keys += Correction.objects.filter(entry__in=keys).values_list("of", flat=True)
    of_rounds = Reading.objects.filter(station=station_id, round__in=keys)
    yield of_rounds.current().aggregate(first=Min("minute"))["first"]
    if corrects:
        ended = of_rounds.filter(ended_by__isnull=False)
        yield ended.aggregate(first=Min("minute"))["first"]
    if corrects or Kind.STATE in kinds:
        states = Entry.objects.filter(pk__in=keys, kind=Kind.STATE)
        first = states.aggregate(first=Min("observed_at"))["first"]
        yield minute_of(first) if first else None


def judge_from(
    judging: Judging, transmitter: Transmitter, since: int, progress: Callable[[float], None]
) -> None:
    """Replace every judgement and summary from the minute ``since`` on."""
    book = LimitBook(transmitter)
    carry = carry_at(transmitter, since)
    Episode.objects.filter(transmitter=transmitter, since_minute__gte=since).delete()
    first, last = span(book, since)
    stored = list(carry.standing)
    for begin in range(first, last + 1, CHUNK_MINUTES):
        until = min(begin + CHUNK_MINUTES, last + 1)
        episodes, carry = judge(judge_frame(book, begin, until), carry)
        store(transmitter, episodes, known={episode.key for episode in stored})
        stored = list(carry.standing)
        progress((until - first) / (last + 1 - first))
    summarise_from(judging, transmitter, [meter.pk for meter in book.meters], since)
    learn(judging, book, last)


def span(book: LimitBook, since: int) -> tuple[int, int]:
    """First and last minute with a current reading from ``since`` on; empty when none."""
    ends = (
        Reading.objects.current()
        .filter(meter__in=[meter.pk for meter in book.meters], minute__gte=since)
        .aggregate(first=Min("minute"), last=Max("minute"))
    )
    return (since, since - 1) if ends["first"] is None else (ends["first"], ends["last"])


def carry_at(transmitter: Transmitter, minute: int) -> Carry:
    """What the rules remembered just before ``minute``: the episodes that stood."""
    stood = Episode.objects.filter(transmitter=transmitter, since_minute__lt=minute).filter(
        Q(until_minute__isnull=True) | Q(until_minute__gte=minute)
    )
    return Carry(tuple(pure_episode(row) for row in stood.order_by("first_no", "meter", "rule")))


def pure_episode(row: Episode) -> pure.Episode:
    return pure.Episode(
        rule=row.rule,
        meter_id=row.meter_id,
        first_no=row.first_no,
        since=row.since_minute,
        until=None,
        priority=row.priority,
        evidence=row.evidence,
    )


def store(transmitter: Transmitter, episodes: list[pure.Episode], known: set) -> None:
    """Insert the new episodes and set the end of those that were stored before."""
    Episode.objects.bulk_create(
        [unsaved(transmitter, episode) for episode in episodes if episode.key not in known]
    )
    for episode in episodes:
        if episode.key in known:
            Episode.objects.filter(
                transmitter=transmitter, **dict(zip(KEY, episode.key, strict=True))
            ).exclude(until_minute=episode.until).update(until_minute=episode.until)


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
