"""In which order flags ask for somebody."""

from health.models import Episode
from station.models import Priority

PRIORITY_ORDER = {priority: place for place, priority in enumerate(Priority.values)}


def urgency(episode: Episode) -> tuple[int, int]:
    """The most pressing first, then the oldest."""
    return PRIORITY_ORDER[episode.priority], episode.since_minute
