"""What the flags of a day are consistent with: matched while it is judged, and stored."""

from collections.abc import Collection, Iterable, Mapping

from django.db.models import OuterRef, QuerySet, Subquery

from health.contexts import contexts_of
from health.models import SymptomMatch
from health.rules.channels import MeterFacts
from health.rules.contexts import of_sheets
from health.rules.episode import Episode
from health.rules.memory import Memory
from health.rules.notes import COPIED
from health.rules.sheets import DAY_MIN, Sheets
from health.rules.signs import Sign, is_enough, signs_at
from health.rules.symptom_table import Context
from health.rules.symptoms import ranked
from station.models import Transmitter

SIGNS_KEPT = 6


def matched(
    transmitter: Transmitter,
    memory: Memory,
    sheets: Sheets,
    meters: Mapping[int, MeterFacts],
    flags: Collection[Episode],
) -> SymptomMatch | None:
    """The symptoms at the end of some rounds of one day, not saved yet; None where nothing stands
    out and no flag is new: what was told before then still holds."""
    day = int(sheets.day[-1])
    signs = signs_at(memory, sheets, meters)
    if not is_enough(signs) and not any(one.since // DAY_MIN == day for one in flags):
        return None
    contexts = {*of_sheets(memory, sheets), *contexts_of(transmitter, day)}
    if any(one.rule == COPIED for one in flags):
        contexts.add(Context.SAME_AS_BEFORE)
    return SymptomMatch(
        transmitter=transmitter,
        day=day,
        minute=int(sheets.minute[-1]),
        ranked=[[one.id, round(one.score, 3), one.part] for one in ranked(signs, contexts)],
        signs=[[one.name, one.part, round(one.size, 2)] for one in foremost(signs)],
    )


def foremost(signs: Iterable[Sign]) -> list[Sign]:
    """What stands out most, beside what each sign does by itself."""
    return sorted(signs, key=lambda one: -abs(one.size) / one.scatter)[:SIGNS_KEPT]


def stood_on(flags: Iterable[Episode], day: int) -> list[Episode]:
    """The flags that stood at any minute of a day."""
    begin, end = day * DAY_MIN, (day + 1) * DAY_MIN
    return [one for one in flags if one.since < end and (one.until is None or one.until >= begin)]


def forget_from(transmitter: Transmitter, day: int) -> None:
    SymptomMatch.objects.filter(transmitter=transmitter, day__gte=day).delete()


def newest_matches(
    transmitters: Iterable[Transmitter], since: int = 0, until: int = 2**31 - 1
) -> QuerySet[SymptomMatch]:
    """Of each transmitter the newest match of since <= minute < until."""
    within = SymptomMatch.objects.filter(minute__gte=since, minute__lt=until)
    newest = within.filter(transmitter=OuterRef("transmitter")).order_by("-day").values("pk")[:1]
    rows = within.filter(transmitter__in=list(transmitters), pk=Subquery(newest))
    return rows.select_related("transmitter").order_by("transmitter")
