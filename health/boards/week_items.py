"""One item of the week's list, and what it costs to ignore it."""

from dataclasses import dataclass
from datetime import datetime
from enum import IntEnum

from django.utils.translation import gettext_lazy as _

from health.models import NOTE
from station.models import Meter, Priority


class Cost(IntEnum):
    """What it costs to ignore an item, the dearest first: the order of the list.

    Common practice, no source. What protects people and plant comes before what loses air time or
    a tube within the week; a slow change leaves time until its limit, the soonest first; evidence
    that is missing may hide any of these; the rest is only to be known.
    """

    PROTECTION = 0
    AIR_TIME = 1
    SLOW_CHANGE = 2
    EVIDENCE = 3
    FORMALITY = 4


TITLES = {
    Cost.PROTECTION: _("Protection, and flags of high priority"),
    Cost.AIR_TIME: _("Air time and tubes: other flags"),
    Cost.SLOW_CHANGE: _("Slow changes, the nearest to its limit first"),
    Cost.EVIDENCE: _("Missing evidence"),
    Cost.FORMALITY: _("Only to be known"),
}

WEIGHT = {NOTE: 0, Priority.LOW: 1, Priority.MEDIUM: 2, Priority.HIGH: 3}


@dataclass(frozen=True)
class Item:
    """``level`` draws it, '' where it is there no more. ``address`` leads to its readings. ``key``
    is its natural key, its first word what it is about.

    ``order`` is its place among those of one cost, the smallest first. ``measure`` is how bad it
    is, greater is worse, and it is worse than it was where that grew by more than ``slack``:
    see ``logbook.models.WeekDecision``. ``began`` is None where that is not stored. What
    ``is_dated`` is of one day or entry: decided, it is not told again in the weeks after.
    """

    kind: str
    level: str
    code: str
    words: str
    address: str
    key: str
    cost: Cost
    order: tuple[float, ...] = (0.0,)
    began: datetime | None = None
    measure: float | None = None
    slack: float = 0.0
    meter: Meter | None = None
    is_dated: bool = False

    @property
    def rank(self) -> tuple[int, tuple[float, ...], str]:
        return self.cost, self.order, self.code

    def is_worse_than(self, then: float | None) -> bool:
        """Whether it is worse than it was measured then; what had no measure has one now."""
        if self.measure is None:
            return False
        return then is None or self.measure - then > self.slack
