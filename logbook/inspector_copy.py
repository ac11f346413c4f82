"""The inspector's copy: every entry of a span of days in order, struck ones too, a sheet a day."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby

from django.db.models import Prefetch, QuerySet

from logbook.cells import shown
from logbook.ledger import Head, head
from logbook.models import Correction, Entry, Kind, Reading
from logbook.queries import corrections_of, whole_entries
from logbook.times import log_day_of, log_day_span
from logbook.whole import in_chunks
from logbook.words import correction_words, entry_words, short_digest
from station.models import Station

MOST_DAYS = 100


@dataclass(frozen=True)
class CopiedValue:
    """One meter: what was written, and what a correction put in its place."""

    label: str
    unit: str
    standing: str
    struck: tuple[str, ...]


@dataclass(frozen=True)
class CopiedEntry:
    entry: Entry
    words: str
    values: tuple[CopiedValue, ...]
    corrections: tuple[tuple[Correction, str], ...]
    digest: str


@dataclass(frozen=True)
class CopiedDay:
    no: int
    day: date
    entries: tuple[CopiedEntry, ...]

    @property
    def heading_id(self) -> str:
        return f"copy-{self.no}"


@dataclass(frozen=True)
class InspectorCopy:
    """``before`` is the digest of the entry before the first one copied, '' at the log's begin."""

    station: Station
    since: date
    until: date
    made_at: datetime
    days: tuple[CopiedDay, ...]
    head: Head | None

    @property
    def digest(self) -> str:
        """The whole digest: with it a cut tail is found by ``verify_log --expect``."""
        return self.head.digest.hex() if self.head else ""


def inspector_copy(station: Station, since: date, until: date, made_at: datetime) -> InspectorCopy:
    """Both days are log days of the station and counted whole; the span has MOST_DAYS at most."""
    begin, end = log_day_span(station, since)[0], log_day_span(station, until)[1]
    entries = list(entries_of_span(station, begin, end))
    by_day = {
        day: list(of_day)
        for day, of_day in groupby(
            entries, key=lambda one: log_day_of(station, one.entry.observed_at)
        )
    }
    length = (until - since).days + 1
    days = [since + timedelta(days=number) for number in range(length)]
    return InspectorCopy(
        station=station,
        since=since,
        until=until,
        made_at=made_at,
        days=tuple(
            CopiedDay(no, day, tuple(by_day.get(day, ()))) for no, day in enumerate(days, start=1)
        ),
        head=head(station),
    )


def entries_of_span(station: Station, begin: datetime, end: datetime) -> Iterator[CopiedEntry]:
    """In the order of their instant, then of their number."""
    rows = with_readings(whole_entries()).filter(
        station=station, observed_at__gte=begin, observed_at__lt=end
    )
    for chunk in in_chunks(rows.order_by("observed_at", "no")):
        corrections: dict[int, list[Correction]] = {}
        for one in corrections_of(chunk):
            corrections.setdefault(one.of_id, []).append(one)
        for entry in chunk:
            yield copied(entry, corrections.get(entry.pk, []))


def with_readings(entries: QuerySet[Entry]) -> QuerySet[Entry]:
    readings = Reading.objects.select_related("meter").order_by("meter__sheet_order", "pk")
    return entries.prefetch_related(Prefetch("round__readings", readings))


def copied(entry: Entry, corrections: Iterable[Correction]) -> CopiedEntry:
    is_round = entry.kind == Kind.ROUND
    return CopiedEntry(
        entry=entry,
        words=entry_words(entry),
        values=tuple(copied_values(entry)) if is_round else (),
        corrections=tuple((one, correction_words(one)) for one in corrections),
        digest=short_digest(entry.digest),
    )


def copied_values(entry: Entry) -> Iterator[CopiedValue]:
    """A round's meters in the order of the sheet; what a struck round said is not struck twice."""
    born_ended = {None, entry.pk, entry.ended_by_id}
    for meter, of_meter in groupby(entry.round.readings.all(), key=lambda one: one.meter):
        readings = list(of_meter)
        standing = [one for one in readings if one.ended_by_id in born_ended]
        struck = [one for one in readings if one.ended_by_id not in born_ended]
        yield CopiedValue(
            label=meter.label,
            unit=meter.unit,
            standing=" ".join(shown(one, meter) for one in standing),
            struck=tuple(shown(one, meter) for one in struck),
        )
