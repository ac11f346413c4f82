"""Taking a version of the schedule, and what the versions ask for."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db import transaction

from station.broadcasts import Broadcast, Version, scheduled
from station.models import Person, ScheduleLine, ScheduleVersion, Station, Transmitter

STARTS_AHEAD = timedelta(hours=36)
"""How far ahead pages look for the next start."""


def take_schedule(
    station: Station,
    lines: Sequence[ScheduleLine],
    *,
    effective_from: datetime,
    note: str,
    by: Person,
    at: datetime,
) -> ScheduleVersion:
    """A new version with these unsaved lines; versions before it stay as they were."""
    with transaction.atomic():
        version = ScheduleVersion.objects.create(
            station=station, effective_from=effective_from, note=note, taken_at=at, taken_by=by
        )
        for line in lines:
            line.version = version
        ScheduleLine.objects.bulk_create(lines)
    return version


def versions_of(station: Station, until: datetime) -> list[Version]:
    """The versions that hold before an instant, with their lines."""
    lines: dict[int, list[ScheduleLine]] = defaultdict(list)
    rows = list(ScheduleVersion.objects.filter(station=station, effective_from__lt=until))
    for line in ScheduleLine.objects.filter(version__in=rows):
        lines[line.version_id].append(line)
    return [
        Version(row.effective_from, tuple(line.line() for line in lines[row.pk])) for row in rows
    ]


def broadcasts_of(station: Station, since: datetime, until: datetime) -> list[Broadcast]:
    """What is scheduled in since <= t < until, by the versions in force."""
    return scheduled(versions_of(station, until), since, until)


def next_starts(
    transmitters: Iterable[Transmitter], station: Station, now: datetime, until: datetime
) -> dict[int, list[Broadcast]]:
    """The broadcasts of each transmitter that begin after ``now``, in order; {} entries: none."""
    found: dict[int, list[Broadcast]] = {one.pk: [] for one in transmitters}
    for one in broadcasts_of(station, now, until):
        if one.begin > now and one.line.transmitter_id in found:
            found[one.line.transmitter_id].append(one)
    return found
