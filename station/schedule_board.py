"""The board of the schedule: what is in force, what comes, what the station is authorised to."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from station.broadcasts import season_of
from station.models import Authorisation, ScheduleLine, ScheduleVersion, Station

EXPIRY_WARNED = timedelta(days=90)


@dataclass(frozen=True)
class Season:
    """Lead dates: request six months before, confirm two months before the season (47 CFR
    73.702, from memory)."""

    name: str
    begin: datetime
    end: datetime

    @property
    def request_by(self) -> date:
        return months_before(self.begin.date(), 6)

    @property
    def confirm_by(self) -> date:
        return months_before(self.begin.date(), 2)


@dataclass(frozen=True)
class AuthorisationLine:
    authorisation: Authorisation
    level: str


@dataclass(frozen=True)
class ScheduleBoard:
    """``standing`` is the version in force, None before the first; ``coming`` those after it."""

    season: Season
    next_season: Season
    standing: ScheduleVersion | None
    lines: tuple[ScheduleLine, ...]
    coming: tuple[ScheduleVersion, ...]
    past: tuple[ScheduleVersion, ...]
    authorisations: tuple[AuthorisationLine, ...]


def build_schedule(station: Station, now: datetime) -> ScheduleBoard:
    versions = list(ScheduleVersion.objects.filter(station=station).select_related("taken_by"))
    begun = [version for version in versions if version.effective_from <= now]
    standing = begun[-1] if begun else None
    season = Season(*season_of(now))
    return ScheduleBoard(
        season=season,
        next_season=Season(*season_of(season.end)),
        standing=standing,
        lines=tuple(lines_of(standing)) if standing else (),
        coming=tuple(version for version in versions if version.effective_from > now),
        past=tuple(reversed(begun[:-1])),
        authorisations=tuple(authorisation_lines(station, now.date())),
    )


def lines_of(version: ScheduleVersion) -> Iterator[ScheduleLine]:
    rows = version.lines.select_related("transmitter", "antenna")
    yield from rows.order_by("transmitter__sheet_order", "start_min")


def authorisation_lines(station: Station, today: date) -> Iterator[AuthorisationLine]:
    rows = Authorisation.objects.filter(station=station).select_related("transmitter", "antenna")
    for row in rows.order_by("transmitter__sheet_order", "low_khz", "valid_from"):
        yield AuthorisationLine(row, expiry_level(row, today))


def expiry_level(row: Authorisation, today: date) -> str:
    """'expired', 'expiring' within three months, or ''."""
    if row.valid_until < today:
        return "expired"
    return "expiring" if row.valid_until - today <= EXPIRY_WARNED else ""


def months_before(day: date, months: int) -> date:
    """The same day of an earlier month; its last day where that month is shorter.

    Example
    -------
    >>> months_before(date(2026, 8, 31), 6)
    datetime.date(2026, 2, 28)
    """
    years, month = divmod(day.year * 12 + day.month - 1 - months, 12)
    following = date(years + (month + 1) // 12, (month + 1) % 12 + 1, 1)
    return date(years, month + 1, min(day.day, (following - timedelta(days=1)).day))
