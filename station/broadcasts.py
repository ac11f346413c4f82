"""What a schedule asks for, instant by instant: seasons, days, midnight, versions. Pure.

Source of the season rule: ITU Radio Regulations Article 12 (from memory): the A season runs from
the last Sunday of March, 0100 UTC, to the last Sunday of October, 0100 UTC; the B season the rest.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import combinations, pairwise

DAY_MIN = 24 * 60
WEEK_MIN = 7 * DAY_MIN
EVERY_DAY = frozenset("1234567")
SEASON_HOUR = time(1, tzinfo=UTC)


@dataclass(frozen=True)
class Line:
    """One line of a schedule: daily times in minutes since 0000 UTC, ``stop_min`` up to 1440.

    A stop at or before the start lies on the next day. ``days`` are the digits of the days on
    which it starts, 1 is Sunday; ``valid_until`` is its last day of starting.
    """

    transmitter_id: int
    frequency_khz: float
    start_min: int
    stop_min: int
    days: frozenset[str] = EVERY_DAY
    valid_from: date | None = None
    valid_until: date | None = None
    antenna_id: int | None = None
    power_kw: float | None = None
    service: str = ""

    @property
    def length_min(self) -> int:
        """From one minute to a whole day.

        Example
        -------
        >>> Line(1, 6105.0, 23 * 60, 60).length_min
        120
        """
        return (self.stop_min - self.start_min - 1) % DAY_MIN + 1

    def starts_on(self, day: date) -> bool:
        is_late = self.valid_from is not None and day < self.valid_from
        is_past = self.valid_until is not None and day > self.valid_until
        return day_digit(day) in self.days and not is_late and not is_past


@dataclass(frozen=True)
class Broadcast:
    """A line on one day, or the part of it for which its version was in force."""

    line: Line
    begin: datetime
    end: datetime


@dataclass(frozen=True)
class Version:
    """The lines that hold from an instant on until the next version does."""

    effective_from: datetime
    lines: tuple[Line, ...]


def day_digit(day: date) -> str:
    """'1' for Sunday to '7' for Saturday.

    Example
    -------
    >>> day_digit(date(2026, 3, 1)), day_digit(date(2026, 3, 2))
    ('1', '2')
    """
    return str(day.isoweekday() % 7 + 1)


def last_sunday(year: int, month: int) -> date:
    """The last Sunday of a month of 31 days."""
    last = date(year, month, 31)
    return last - timedelta(days=last.isoweekday() % 7)


def season_of(instant: datetime) -> tuple[str, datetime, datetime]:
    """The season's name, such as 'A26', with its first instant and that of the next one.

    Example
    -------
    >>> name, begin, end = season_of(datetime(2026, 3, 29, 1, tzinfo=UTC))
    >>> name, f"{begin:%d %b %H%M}", f"{end:%d %b %Y %H%M}"
    ('A26', '29 Mar 0100', '25 Oct 2026 0100')
    """
    turns = [
        (f"{letter}{year % 100:02d}", datetime.combine(last_sunday(year, month), SEASON_HOUR))
        for year in (instant.year - 1, instant.year, instant.year + 1)
        for letter, month in (("A", 3), ("B", 10))
    ]
    for (name, begin), (_next, end) in pairwise(turns):
        if begin <= instant < end:
            return name, begin, end
    raise AssertionError("the turns of three years hold every instant of the middle one")


def broadcasts(lines: Iterable[Line], since: datetime, until: datetime) -> list[Broadcast]:
    """What the lines ask for in since <= t < until, cut to it, in the order of time."""
    first = since.astimezone(UTC).date() - timedelta(days=1)
    days = [first + timedelta(days=n) for n in range((until - since).days + 3)]
    found = [on_day(line, day) for line in lines for day in days if line.starts_on(day)]
    cut = [clipped(one, since, until) for one in found if one.begin < until and one.end > since]
    return sorted(cut, key=lambda one: (one.begin, one.line.transmitter_id))


def on_day(line: Line, day: date) -> Broadcast:
    begin = datetime.combine(day, time(tzinfo=UTC)) + timedelta(minutes=line.start_min)
    return Broadcast(line, begin, begin + timedelta(minutes=line.length_min))


def clipped(one: Broadcast, since: datetime, until: datetime) -> Broadcast:
    return replace(one, begin=max(one.begin, since), end=min(one.end, until))


def scheduled(versions: Sequence[Version], since: datetime, until: datetime) -> list[Broadcast]:
    """The same by versions: at each instant the one that was in force then, before the first
    none. A broadcast that a new version cuts stands as two that meet."""
    ordered = sorted(versions, key=lambda version: version.effective_from)
    ends = [*(version.effective_from for version in ordered[1:]), until][: len(ordered)]
    found: list[Broadcast] = []
    for version, end in zip(ordered, ends, strict=True):
        begin, last = max(version.effective_from, since), min(end, until)
        if begin < last:
            found += broadcasts(version.lines, begin, last)
    return found


def overlaps(lines: Sequence[Line]) -> list[tuple[int, int]]:
    """Places of the lines of one transmitter that ask for the same minute of some week."""
    return [
        (first, second)
        for (first, one), (second, other) in combinations(enumerate(lines), 2)
        if one.transmitter_id == other.transmitter_id and meet(one, other)
    ]


def meet(one: Line, other: Line) -> bool:
    """Whether two lines share a minute, on days on which both hold."""
    if not share_days(one, other):
        return False
    return any(
        (begin - start) % WEEK_MIN < one.length_min or (start - begin) % WEEK_MIN < other.length_min
        for start in week_starts(one)
        for begin in week_starts(other)
    )


def share_days(one: Line, other: Line) -> bool:
    """Whether some day may see both: the last one's night runs into the day after."""
    lasts = [line.valid_until or date.max for line in (one, other)]
    firsts = [line.valid_from or date.min for line in (one, other)]
    return max(firsts) <= min(last if last == date.max else last + DAY for last in lasts)


DAY = timedelta(days=1)


def week_starts(line: Line) -> list[int]:
    """The minutes of a week from Sunday 0000 UTC at which it starts."""
    return [(int(digit) - 1) * DAY_MIN + line.start_min for digit in sorted(line.days)]
