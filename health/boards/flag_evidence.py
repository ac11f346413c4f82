"""One flag with what it stands on: the readings around it, its limit, its rule."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from health.boards.flags import FlagLine, actions_by_key, lines_of
from health.explanations import RuleText, rule_text
from health.models import Episode
from logbook.models import FlagAction, Reading
from logbook.point_words import PointWords, point_words
from logbook.reading_words import reading_words
from logbook.standing import standing_at
from logbook.times import MINUTE
from station.models import Limit

AROUND = timedelta(hours=12)


@dataclass(frozen=True)
class EvidenceReading:
    at: datetime
    round_no: int
    words: str
    is_first: bool


@dataclass(frozen=True)
class FlagEvidence:
    """One flag with the readings around it, the limit that it crossed and how it was judged."""

    line: FlagLine
    point: PointWords
    limit: Limit | None
    rule: RuleText
    readings: tuple[EvidenceReading, ...]


def build_evidence(episode: Episode, now: datetime) -> FlagEvidence:
    actions = actions_by_key(FlagAction.objects.filter(meter=episode.meter, rule=episode.rule))
    (line,) = lines_of([episode], actions, now)
    limit = (
        Limit.objects.filter(pk=episode.evidence.get("limit_id")).select_related("author").first()
    )
    return FlagEvidence(
        line=line,
        point=point_words(standing_at(episode.transmitter, episode.since)),
        limit=limit,
        rule=rule_text(episode.rule),
        readings=tuple(readings_around(episode)),
    )


def readings_around(episode: Episode) -> Iterable[EvidenceReading]:
    """The meter's current readings from half a day before the flag to half a day after."""
    span = AROUND // MINUTE
    rows = (
        Reading.objects.current()
        .filter(meter=episode.meter)
        .filter(minute__gte=episode.since_minute - span, minute__lte=episode.since_minute + span)
        .select_related("round__entry")
        .order_by("minute", "round__entry__no")
    )
    for row in rows:
        yield EvidenceReading(
            at=row.observed_at,
            round_no=row.round.entry.no,
            words=reading_words(row, episode.meter.decimals),
            is_first=row.round.entry.no == episode.first_no,
        )
