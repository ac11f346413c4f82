"""What health answers when the log asks through its port."""

from datetime import datetime
from typing import Any

from health.assess import TooManyWait, assess
from health.models import Episode
from health.words import flag_words
from logbook.models import Entry
from logbook.remarks import FlagRemark
from logbook.times import minute_of
from station.models import Transmitter

# What an import left waiting is for the command: a save does not take it on.
MOST_AT_ONCE = 100


def hints(transmitter: Transmitter, at: datetime) -> dict[str, Any]:
    """Expected value and scatter by meter code; a meter without one has no reference yet."""
    return {}


def second_look(draft: Any) -> list[Any]:
    """Questions about values that look like slips."""
    return []


def remarks(transmitter: Transmitter, since: datetime, until: datetime) -> list[FlagRemark]:
    """The flags that stood in a span."""
    episodes = (
        Episode.objects.filter(transmitter=transmitter)
        .touching(minute_of(since), minute_of(until))
        .select_related("meter")
    )
    return [
        FlagRemark(
            meter=episode.meter,
            since=episode.since,
            until=episode.until,
            priority=episode.priority,
            words=flag_words(episode),
        )
        for episode in episodes
    ]


def changed(entry: Entry) -> bool:
    """Judge what an entry changed; True when it is done, False when too much waits before it."""
    if entry.transmitter is None:
        return True
    try:
        assess(entry.transmitter, most=MOST_AT_ONCE)
    except TooManyWait:
        return False
    return True
