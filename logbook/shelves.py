"""What is set aside: flags on the shelf, with their end, and meters that are out of service."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from logbook.duty import duties
from logbook.models import FlagAction, FlagVerb
from logbook.times import clock_text
from station.models import Station

LONGEST_SHELF = timedelta(hours=8)
"""Common practice, no source: a shift's length."""
ENDS = {FlagVerb.UNSHELVE.value: FlagVerb.SHELVE.value, FlagVerb.BACK.value: FlagVerb.OUT.value}
SETS_ASIDE = frozenset({*ENDS, *ENDS.values()})
LEVELS = {FlagVerb.SHELVE.value: "shelved", FlagVerb.OUT.value: "out-of-service"}


@dataclass(frozen=True)
class Aside:
    """From ``begin`` to ``end``, by the entry of ``action``; ``end`` None: until somebody writes
    it. A shelf is of one rule and meter, 'out of service' of all flags of a meter.
    """

    action: FlagAction
    begin: datetime
    end: datetime | None

    def is_at(self, instant: datetime) -> bool:
        return self.begin <= instant and (self.end is None or instant < self.end)

    @property
    def is_shelf(self) -> bool:
        return self.action.verb == FlagVerb.SHELVE

    @property
    def level(self) -> str:
        return LEVELS[self.action.verb]

    @property
    def words(self) -> str:
        """'until 14:00 UTC, by A. Moor: being compared', 'on order 4711, since ...'."""
        facts = {"until": self.end_words, "by": self.action.entry.name_as_written}
        facts |= {"number": self.action.order_number or _("no number")}
        facts |= {"since": clock_words(self.begin), "why": self.action.comment or _("no reason")}
        if self.is_shelf:
            return _("until %(until)s, by %(by)s: %(why)s") % facts
        return _("on order %(number)s, since %(since)s, by %(by)s: %(why)s") % facts

    @property
    def end_words(self) -> str:
        if self.end is None:
            return ""
        if self.action.until is None:
            return _("the end of the shift, %s at the latest") % clock_words(self.end)
        return clock_words(self.end)


def clock_words(instant: datetime) -> str:
    return _("%s UTC") % clock_text(instant)


def asides(actions: Iterable[FlagAction], duties_from: Sequence[datetime]) -> list[Aside]:
    """What was set aside, by the actions that stand, in the order of their entries.

    ``duties_from`` are the instants at which somebody took the duty, in order.
    """
    found: list[Aside] = []
    last: dict[tuple[str, int, str], int] = {}
    for action in actions:
        if action.verb not in SETS_ASIDE:
            continue
        begins = ENDS.get(action.verb, action.verb)
        key = (begins, action.meter_id, action.rule if begins == FlagVerb.SHELVE else "")
        if key in last:
            found[last[key]] = cut(found[last[key]], action.entry.observed_at)
        if action.verb == begins:
            last[key] = len(found)
            found.append(Aside(action, action.entry.observed_at, end_of(action, duties_from)))
    return found


def cut(aside: Aside, at: datetime) -> Aside:
    return replace(aside, end=at if aside.end is None else min(aside.end, at))


def end_of(action: FlagAction, duties_from: Sequence[datetime]) -> datetime | None:
    """A shelf ends by itself: at its instant, at the next duty, after eight hours at the latest."""
    if action.verb == FlagVerb.OUT:
        return None
    begin = action.entry.observed_at
    next_duty = (one for one in duties_from if one > begin)
    wanted = action.until or next(next_duty, begin + LONGEST_SHELF)
    return min(wanted, begin + LONGEST_SHELF)


def duties_since(station: Station, since: datetime) -> list[datetime]:
    """The instants at which somebody took the duty, in order."""
    taken = duties(station).filter(entry__observed_at__gte=since)
    return sorted(taken.values_list("entry__observed_at", flat=True))


def asides_now(station: Station, now: datetime) -> Iterator[Aside]:
    """What is set aside at an instant, by the log alone."""
    since = now - LONGEST_SHELF
    rows = FlagAction.objects.filter(
        station=station, verb__in=SETS_ASIDE, entry__ended_by__isnull=True
    ).select_related("entry", "meter__transmitter")
    found = asides(rows.order_by("entry__no"), duties_since(station, since))
    return (aside for aside in found if aside.is_at(now))
