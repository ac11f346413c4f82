"""The parts that every room's pages share."""

from typing import Any

from django import template

from station.statuses import look_of

register = template.Library()


@register.inclusion_tag("parts/_status.html")
def status(level: str, word: str = "") -> dict[str, Any]:
    """The one way to draw a status; ``word`` replaces the usual one."""
    return {"level": level, "look": look_of(level), "word": word}
