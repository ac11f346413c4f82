"""The parts that every room's pages share."""

from datetime import UTC, datetime, tzinfo
from typing import Any

from django import template

from station.models.schedule import clock
from station.statuses import look_of

register = template.Library()


@register.inclusion_tag("parts/_status.html")
def status(level: str, word: str = "") -> dict[str, Any]:
    """The one way to draw a status; ``word`` replaces the usual one."""
    return {"level": level, "look": look_of(level), "word": word}


@register.filter
def utc_text(instant: datetime) -> str:
    return f"{instant.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


@register.filter
def local_text(instant: datetime, zone: tzinfo) -> str:
    """Local time with its label: the date filter leaves it out in the repeated hour."""
    return f"{instant.astimezone(zone):%Y-%m-%d %H:%M %Z}"


@register.filter
def zone_label(local: datetime) -> str:
    return local.tzname() or ""


@register.filter
def utc_clock(instant: datetime) -> str:
    return f"{instant.astimezone(UTC):%H:%M}"


@register.filter
def clock_text(instant: datetime, zone: tzinfo) -> str:
    """Local clock time with label and offset, which tell the two halves of a repeated hour."""
    local = instant.astimezone(zone)
    return f"{local:%H:%M %Z} ({local:%z})"


@register.filter
def schedule_clock(minutes: int) -> str:
    return clock(minutes)
