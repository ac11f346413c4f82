"""One flag with what it stands on: the readings around it, its limit or baseline, its rule."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _

from health.advice import Advice, advice_for
from health.boards.flag_expected import Expected, Judged, expected_of
from health.boards.flag_lines import FlagLine, answers_of, lines_of
from health.boards.flag_pattern import Together, together_of
from health.boards.symptoms import Symptoms, symptoms_of
from health.explanations import RULES, RuleText, rule_text
from health.models import Episode, SymptomMatch
from health.rules.days import SHIFT
from health.rules.pattern import PATTERN
from health.rules.sheets import DAY_MIN
from logbook.models import FlagAction, Reading
from logbook.point_words import PointWords, point_words
from logbook.reading_words import reading_words
from logbook.shelves import Aside
from logbook.standing import standing_at
from logbook.times import MINUTE
from station.models import Limit, Meter

AROUND = timedelta(hours=12)
RAISED = _("raised the flag")
OF_DAYS = _("last round of the days that raised the flag")
MARKS = {SHIFT: OF_DAYS, PATTERN: OF_DAYS}
"""What the round at which a flag begins says, by the kind of rule."""


@dataclass(frozen=True)
class EvidenceColumn:
    label: str
    unit: str


@dataclass(frozen=True)
class EvidenceRow:
    """One round: what its meters say together, where the rule asks for that, and each of them."""

    at: datetime
    round_no: int
    words: tuple[str, ...]
    is_first: bool


@dataclass(frozen=True)
class FlagEvidence:
    """One flag with the readings around it, the limit or the baseline, and how it was judged.

    ``asides`` are what holds of its meter now: its shelf, its meter out of service. ``explained``
    names the page of its rule, '' where there is none; ``mark`` is what the round says at which
    it begins.
    """

    line: FlagLine
    symptoms: tuple[Symptoms, ...]
    advice: Advice
    asides: tuple[Aside, ...]
    point: PointWords
    limit: Limit | None
    expected: Expected | None
    together: Together | None
    rule: RuleText
    explained: str
    mark: str
    meters: tuple[Meter, ...]
    columns: tuple[EvidenceColumn, ...]
    rows: tuple[EvidenceRow, ...]


def build_evidence(episode: Episode, now: datetime) -> FlagEvidence:
    actions = FlagAction.objects.filter(meter=episode.meter)
    answers = answers_of(episode.transmitter.station, actions, now)
    (line,) = lines_of([episode], answers, now)
    limits = Limit.objects.filter(pk=episode.evidence.get("limit_id")).select_related("author")
    limit = limits.first()
    judged = Judged(episode)
    return FlagEvidence(
        line=line,
        symptoms=tuple(symptoms_over(episode)),
        advice=advice_for(episode, limit),
        asides=tuple(a for a in answers.asides.get(episode.meter_id, []) if is_about(a, line, now)),
        point=point_words(standing_at(episode.transmitter, episode.since)),
        limit=limit,
        expected=expected_of(judged),
        together=together_of(judged),
        rule=rule_text(episode.rule),
        explained=episode.rule if episode.rule in RULES else "",
        mark=MARKS.get(episode.rule.rpartition("-")[2], RAISED),
        meters=tuple(judged.meters),
        columns=tuple(columns_of(judged)),
        rows=tuple(rows_of(judged)),
    )


def symptoms_over(episode: Episode) -> Iterator[Symptoms]:
    """Those of the flag's last day, and of its first where that is another."""
    days = SymptomMatch.objects.filter(
        transmitter=episode.transmitter, day__gte=episode.since_minute // DAY_MIN
    ).order_by("day")
    if episode.until_minute is not None:
        days = days.filter(day__lte=episode.until_minute // DAY_MIN)
    ends = dict.fromkeys([days.last(), days.first()])
    yield from (symptoms_of(one) for one in ends if one is not None)


def is_about(aside: Aside, line: FlagLine, now: datetime) -> bool:
    is_own = not aside.is_shelf or aside.action.rule == line.episode.rule
    return is_own and aside.is_at(now)


def columns_of(judged: Judged) -> Iterator[EvidenceColumn]:
    if judged.channel is not None and judged.channel.relation:
        meter, subject = judged.meters[0], judged.subject
        yield EvidenceColumn(subject.words(meter), subject.unit_words(meter))
    for meter in judged.meters:
        yield EvidenceColumn(meter.label, meter.unit)


def rows_of(judged: Judged) -> Iterator[EvidenceRow]:
    """The rounds with any of the meters, from half a day before the flag to half a day after."""
    rounds = readings_around(judged.episode, judged.meters)
    rows = list(rounds.values())
    together = judged.computed(rows) or [None] * len(rows)
    for (no, row), said in zip(rounds.items(), together, strict=True):
        own = (cell_words(row.get(meter.pk), meter) for meter in judged.meters)
        yield EvidenceRow(
            at=next(iter(row.values())).observed_at,
            round_no=no,
            words=(*(() if said is None else (said,)), *own),
            is_first=no == judged.episode.first_no,
        )


def cell_words(reading: Reading | None, meter: Meter) -> str:
    return "" if reading is None else reading_words(reading, meter.decimals)


def readings_around(
    episode: Episode, meters: Sequence[Meter]
) -> Mapping[int, Mapping[int, Reading]]:
    """The meters' current readings by the entry of their round, in order, and by meter."""
    span = AROUND // MINUTE
    found = (
        Reading.objects.current()
        .filter(meter__in=meters)
        .filter(minute__gte=episode.since_minute - span, minute__lte=episode.since_minute + span)
        .select_related("round__entry")
        .order_by("minute", "round__entry__no")
    )
    rounds: dict[int, dict[int, Reading]] = {}
    for reading in found:
        rounds.setdefault(reading.round.entry.no, {})[reading.meter_id] = reading
    return rounds
