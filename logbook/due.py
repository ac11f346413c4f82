"""Which rounds the states of a transmitter ask for, and which are due, late or missed. Pure.

A state without an interval asks for no rounds: an off set owes one change of state and no more.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from logbook.points import points_at
from logbook.times import instant_of, minute_of

LOOK_AHEAD = timedelta(days=1)


@dataclass(frozen=True)
class Slot:
    """An instant for which a round is asked; it stays open until the next one."""

    at: datetime
    interval: timedelta

    @property
    def closes(self) -> datetime:
        return self.at + self.interval

    def level(self, now: datetime, late_after: timedelta) -> str:
        """Of a slot without a round: '' is yet to come, then 'due', 'late', 'missed'."""
        if now < self.at:
            return ""
        if now >= self.closes:
            return "missed"
        return "late" if now - self.at > late_after else "due"


@dataclass(frozen=True)
class Due:
    """How a transmitter's rounds stand: the slot that is open or comes next, those missed."""

    slot: Slot | None
    level: str
    missed: tuple[Slot, ...]


def slots_asked(
    standing: pd.DataFrame, asked: Mapping[str, int], since: datetime, until: datetime
) -> list[Slot]:
    """The slots of since <= slot < until while the state asks for rounds.

    Parameters
    ----------
    standing : DataFrame
        As ``points.intervals`` gives it.
    asked : mapping of state to interval [min]
        Slots stand on whole multiples of the interval in UTC.
    since, until : datetime

    Returns
    -------
    list of Slot
        In order.
    """
    found: dict[int, int] = {}
    for interval in sorted(set(asked.values())):
        first = -(-minute_of(since) // interval) * interval
        minutes = np.arange(first, minute_of(until), interval, dtype=np.int64)
        wanted = points_at(standing, minutes)["state"].map(asked).to_numpy() == interval
        found |= {int(minute): interval for minute in minutes[wanted]}
    return [Slot(instant_of(minute), timedelta(minutes=found[minute])) for minute in sorted(found)]


def rounds_due(
    standing: pd.DataFrame,
    asked: Mapping[str, int],
    taken: Collection[datetime],
    *,
    since: datetime,
    now: datetime,
    late_after: timedelta,
) -> Due:
    """What is due at ``now``, given the slots ``taken`` since ``since``.

    The slot that is open and has no round; else the next one if the state stays as it is.
    """
    slots = slots_asked(standing, asked, since, now + LOOK_AHEAD)
    without = [(slot.level(now, late_after), slot) for slot in slots if slot.at not in taken]
    missed = tuple(slot for level, slot in without if level == "missed")
    level, ahead = next((one for one in without if one[0] != "missed"), ("", None))
    return Due(ahead, level, missed)
