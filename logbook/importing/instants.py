"""Instants out of a file. Pure: a text that could mean two instants is refused."""

import re
from datetime import UTC, datetime, timedelta

from django.utils.translation import gettext as _

from logbook.importing.faults import Refused

ISO = re.compile(
    r"(?P<day>\d{4}-\d{2}-\d{2})[T ](?P<hour>\d{2}):?(?P<minute>\d{2})(?::(?P<second>\d{2}))?"
    r"\s*(?P<zone>Z|UTC|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
NAMES_OF_UTC = {"z", "utc"}


def instant_of_text(text: str, column: str, *, is_utc: bool) -> datetime:
    """The instant that a text says; 24:00 is the end of its day.

    ``is_utc``: the column's heading says UTC, so that a text without a zone is UTC.

    Example
    -------
    >>> instant_of_text("2026-03-01 24:00Z", "observed_at", is_utc=False).isoformat()
    '2026-03-02T00:00:00+00:00'
    """
    match = ISO.fullmatch(text)
    if not match:
        reason = _(
            "is no instant that can mean one time only: write year-month-day and the clock with "
            "its zone, as 2026-03-01T14:05Z"
        )
        raise Refused(column, reason, text)
    zone = match["zone"] or ("Z" if is_utc else "")
    if not zone:
        reason = _("has no zone: write Z behind a time in UTC, or head the column with [UTC]")
        raise Refused(column, reason, text)
    return read(match, column, text) - offset(zone)


def read(match: re.Match[str], column: str, text: str) -> datetime:
    hour, minute, second = int(match["hour"]), int(match["minute"]), int(match["second"] or 0)
    is_end_of_day = (hour, minute, second) == (24, 0, 0)
    try:
        day = datetime.fromisoformat(match["day"]).replace(tzinfo=UTC)
        at = day if is_end_of_day else day.replace(hour=hour, minute=minute, second=second)
    except ValueError as error:
        raise Refused(column, _("is no day and time of the calendar"), text) from error
    return at + timedelta(days=1) if is_end_of_day else at


def offset(zone: str) -> timedelta:
    if zone.casefold() in NAMES_OF_UTC:
        return timedelta()
    hours, minutes = int(zone[1:3]), int(zone[-2:])
    ahead = timedelta(hours=hours, minutes=minutes)
    return -ahead if zone.startswith("-") else ahead
