"""Whether the clock can be trusted: it went back, or jumped while the server ran.

Entries are numbered whatever the clock does; but a wrong clock writes wrong times, so the page
asks before it saves. What cannot be told: a clock that was wrong already when the server began.
"""

import time
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from logbook.models import Entry
from logbook.times import clock_text
from station.models import Station

MOST = timedelta(minutes=2)


@dataclass(frozen=True)
class ClockDoubt:
    """``name`` changes with what is doubted, so that an answer fits it alone."""

    name: str
    sentence: str


class Watch:
    """Holds the clock against one that nobody sets: the time since the machine was started."""

    def __init__(self) -> None:
        self.offset: float | None = None

    def start(self) -> None:
        self.offset = offset_now()

    def drift(self) -> timedelta:
        """By how much the clock was moved since the start; zero before one."""
        if self.offset is None:
            return timedelta()
        return timedelta(seconds=offset_now() - self.offset)


WATCH = Watch()
"""Started by the server; one process serves a station."""


def offset_now() -> float:
    """The clock less the time since the machine was started, sleep counted."""
    since_boot = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)
    return time.time() - time.clock_gettime(since_boot)


def clock_doubt(station: Station, now: datetime) -> ClockDoubt | None:
    return went_back(station, now) or jumped(now)


def went_back(station: Station, now: datetime) -> ClockDoubt | None:
    """Against the last entry: after a power cut a clock may stand hours or years back."""
    last = (
        Entry.objects.filter(station=station)
        .order_by("-no")
        .values_list("no", "entered_at")
        .first()
    )
    if last is None or now >= last[1] - MOST:
        return None
    sentence = _(
        "The clock says %(now)s UTC, but entry %(no)s was entered at %(then)s UTC. Is the clock "
        "right now?"
    )
    facts = {"no": last[0], "now": clock_text(now), "then": clock_text(last[1])}
    return ClockDoubt(f"back:{last[0]}", sentence % facts)


def jumped(now: datetime) -> ClockDoubt | None:
    drift = WATCH.drift()
    if abs(drift) <= MOST:
        return None
    minutes = round(drift / timedelta(minutes=1))
    sentence = _(
        "The clock was moved by %(minutes)+d minutes while the log was running and says %(now)s "
        "UTC. Is it right now?"
    )
    return ClockDoubt(f"jump:{minutes}", sentence % {"minutes": minutes, "now": clock_text(now)})
