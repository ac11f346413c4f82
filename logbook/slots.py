"""The slot a round belongs to and the instant it was read, from what a page says. Pure."""

from datetime import UTC, date, datetime, time, timedelta

from logbook.times import instant_of, minute_of

USUAL_INTERVAL_MIN = 60
FIRST_YEAR, LAST_YEAR = 1950, 2199
SLOT_FORMAT = "%Y-%m-%dT%H:%MZ"


def latest_slot(now: datetime, interval_min: int) -> datetime:
    """The slot that fell due last; slots stand on whole multiples of the interval in UTC."""
    minute = minute_of(now)
    return instant_of(minute - minute % interval_min)


def slot_text(slot: datetime) -> str:
    return slot.astimezone(UTC).strftime(SLOT_FORMAT)


def parse_slot(text: str) -> datetime | None:
    """The slot of an address, or None when the text is no slot of a sensible year."""
    try:
        slot = datetime.strptime(text, SLOT_FORMAT).replace(tzinfo=UTC)
    except ValueError:
        return None
    return slot if is_sensible(slot.date()) else None


def is_sensible(day: date) -> bool:
    return FIRST_YEAR <= day.year <= LAST_YEAR


def slots_of_day(day: date, interval_min: int) -> list[datetime]:
    begin = datetime.combine(day, time(), UTC)
    return [begin + timedelta(minutes=minute) for minute in range(0, 24 * 60, interval_min)]


def nearest(slot: datetime, clock: time) -> datetime:
    """The instant nearest to the slot at which the UTC clock shows this time."""
    same_day = datetime.combine(slot.date(), clock, UTC)
    candidates = [same_day + timedelta(days=days) for days in (-1, 0, 1)]
    return min(candidates, key=lambda instant: abs(instant - slot))


def late_minutes(slot: datetime, observed_at: datetime, late_after_min: int) -> int:
    """By how many minutes a round is late; 0 when it is in time."""
    behind = minute_of(observed_at) - minute_of(slot)
    return behind if behind > late_after_min else 0
