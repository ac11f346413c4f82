"""Whole minutes since 1970 UTC, slots and log days."""

from datetime import UTC, date, datetime, timedelta

from station.models import Station

MINUTE = timedelta(minutes=1)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def minute_of(instant: datetime) -> int:
    """Whole minutes since 1970 UTC, rounded down."""
    return int((instant - EPOCH) // MINUTE)


def instant_of(minute: int) -> datetime:
    return EPOCH + minute * MINUTE


def log_day_span(station: Station, day: date) -> tuple[datetime, datetime]:
    """The UTC instants at which a station's log day begins and ends; 23 to 25 h if local."""
    zone = UTC if station.log_day == "utc" else station.zone
    begin = datetime(day.year, day.month, day.day, tzinfo=zone)
    following = day + timedelta(days=1)
    end = datetime(following.year, following.month, following.day, tzinfo=zone)
    return begin.astimezone(UTC), end.astimezone(UTC)


def log_day_of(station: Station, instant: datetime) -> date:
    zone = UTC if station.log_day == "utc" else station.zone
    return instant.astimezone(zone).date()


def hours_of(instant: datetime) -> float:
    """Hours since 1970 UTC."""
    return instant.timestamp() / 3600.0


def clock_text(instant: datetime) -> str:
    """'2026-03-02 14:00', in UTC."""
    return f"{instant.astimezone(UTC):%Y-%m-%d %H:%M}"
