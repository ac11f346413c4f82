"""Judge what is pending, or everything anew, and say what stands."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db.models import F, QuerySet
from django.utils.dateparse import parse_datetime

from health.assess import assess
from health.drift import drifts_of
from health.models import Drift, Episode, SymptomMatch
from health.summaries import last_minute
from logbook.models import Entry, Kind
from logbook.times import instant_of, minute_of
from station.limits import LimitBook
from station.models import Transmitter


def instant(text: str) -> datetime:
    """An instant with its zone, UTC if none is written."""
    value = parse_datetime(text)
    if value is None:
        raise ValueError(text)
    return value if value.tzinfo else value.replace(tzinfo=UTC)


class Command(BaseCommand):
    help = "Judge pending entries; --rebuild judges everything anew."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--since", type=instant, help="flags that stood at or after this")
        parser.add_argument("--until", type=instant, help="flags that stood before this")
        parser.add_argument("--rebuild", action="store_true", help="judge everything anew")
        parser.add_argument("--json", action="store_true", help="print what stands as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        for transmitter in Transmitter.objects.select_related("station"):
            outcome = assess(transmitter, rebuild=options["rebuild"])
            self.stderr.write(f"{transmitter.code}: {outcome.entries} entries judged")
        if options["json"]:
            json.dump(report(options["since"], options["until"]), self.stdout, indent=1)
            self.stdout.write("")


def report(since: datetime | None, until: datetime | None) -> dict[str, Any]:
    """The flags that stood in a span, what drifted at its end, and what the flags of each of its
    days were consistent with."""
    first = minute_of(since) if since else 0
    last = minute_of(until) if until else 2**31 - 1
    episodes = Episode.objects.touching(first, last).select_related("transmitter", "meter")
    return {
        "rounds": rounds_judged(),
        "flags": [flag(episode) for episode in episodes],
        "drifts": [drift(one) for one in drifts_until(last)],
        "symptoms": [symptoms(one) for one in matches_between(first, last)],
    }


def matches_between(first: int, last: int) -> QuerySet[SymptomMatch]:
    found = SymptomMatch.objects.filter(minute__gte=first, minute__lt=last)
    return found.select_related("transmitter").order_by("transmitter", "day")


def symptoms(match: SymptomMatch) -> dict[str, Any]:
    """``part`` is the tube, leg, loop or dial, '' for the whole; the id may be 'no match'."""
    return {
        "transmitter": match.transmitter.code,
        "since": instant_of(match.minute).isoformat(),
        "ranked": [
            {"id": name, "score": score, "part": part} for name, score, part in match.ranked
        ],
    }


def drifts_until(minute: int) -> Iterator[Drift]:
    """The drifts at a minute, or at the newest reading where that is earlier."""
    for transmitter in Transmitter.objects.select_related("station").order_by("pk"):
        newest = last_minute([meter.pk for meter in transmitter.meters.all()])
        yield from drifts_of(LimitBook(transmitter), instant_of(min(minute, newest + 1)))


def drift(one: Drift) -> dict[str, Any]:
    """``channel`` tells apart what drifts of one meter: programme, weather, a relation."""
    figures = ("slope_per_1000h", "low", "high", "limit", "days_low", "days_high")
    return {
        "transmitter": one.transmitter.code,
        "meter": one.meter.code,
        "channel": one.channel,
        **{name: getattr(one, name) for name in figures},
    }


def rounds_judged() -> int:
    rounds = Entry.objects.filter(kind=Kind.ROUND)
    return rounds.filter(no__lte=F("transmitter__judging__judged_no")).count()


def flag(episode: Episode) -> dict[str, Any]:
    return {
        "transmitter": episode.transmitter.code,
        "meter": episode.meter.code,
        "rule": episode.rule,
        "priority": episode.priority,
        "since": episode.since.isoformat(),
        "until": episode.until.isoformat() if episode.until else None,
        "evidence": {**episode.evidence, "first_entry": episode.first_no},
    }
