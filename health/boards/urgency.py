"""In which order flags ask for somebody."""

from health.models import PRIORITIES, Episode

PRIORITY_ORDER = {priority: place for place, (priority, _label) in enumerate(PRIORITIES)}


def urgency(episode: Episode) -> tuple[bool, int, int]:
    """Low water first of all, then the most pressing, then the oldest."""
    return not episode.is_vital, PRIORITY_ORDER[episode.priority], episode.since_minute
