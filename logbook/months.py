"""A calendar month in UTC, as an address names it."""

import re
from datetime import UTC, datetime

from logbook.slots import FIRST_YEAR, LAST_YEAR

MONTH = re.compile(r"(\d{4})-(0[1-9]|1[0-2])", re.ASCII)


def parsed_month(text: str) -> tuple[datetime, datetime] | None:
    """The span of a month written as 2026-03, None for what is none in which a log was kept."""
    match = MONTH.fullmatch(text)
    if not match or not FIRST_YEAR <= int(match[1]) <= LAST_YEAR:
        return None
    return month_span(int(match[1]), int(match[2]))


def month_span(year: int, month: int) -> tuple[datetime, datetime]:
    begin = datetime(year, month, 1, tzinfo=UTC)
    return begin, datetime(year + month // 12, month % 12 + 1, 1, tzinfo=UTC)
