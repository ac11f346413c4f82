"""The engineer's review of a week: what is to be decided, what was, and what is carried on.

Nothing of it is stored: the items come from the log and from what the analysis keeps, what was
decided about them from the decisions, and what a signed week left open from its signature.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import groupby
from math import ceil
from urllib.parse import urlencode

import pandas as pd
from django.db.models import Q
from django.urls import reverse

from health.boards.week_decisions import ended_flags, items_of
from health.boards.week_items import TITLES, Cost, Item
from health.boards.week_stands import Stand, stand_of
from logbook.frames import standing_points_of_all
from logbook.models import Signature, SignatureScope, WeekDecision
from logbook.signatures import signatures_of
from logbook.words import decided_words
from station.models import Station, Transmitter

WEEK = timedelta(days=7)
LOOKED_THROUGH = 4 * WEEK
"""How far back weeks that nobody signed are looked through: common practice, no source."""

Decisions = Mapping[str, WeekDecision]


@dataclass(frozen=True)
class Line:
    """``why`` it is to be decided again. ``weeks``: for how many weeks before this one it is on
    the list. ``is_after``: its decision was written after the week was signed.
    """

    item: Item
    stand: Stand
    why: str
    decision: WeekDecision | None
    weeks: int
    is_after: bool

    @property
    def is_open(self) -> bool:
        return self.stand in {Stand.UNDECIDED, Stand.BACK}

    @property
    def decided_words(self) -> str:
        return decided_words(self.decision) if self.decision else ""


@dataclass(frozen=True)
class Group:
    """The lines of one cost, which can be decided together."""

    cost: Cost
    lines: tuple[Line, ...]

    @property
    def title(self) -> str:
        return str(TITLES[self.cost])

    @property
    def heading_id(self) -> str:
        return f"decide-{self.cost.name.lower().replace('_', '-')}"

    @property
    def are_several(self) -> bool:
        return len(self.lines) > 1

    @property
    def asked(self) -> str:
        """The query of the page on which all of them are decided."""
        return urlencode([("key", line.item.key) for line in self.lines])


@dataclass(frozen=True)
class Review:
    """Its lines, ranked. What weeks from ``carried_from`` on left open is among them."""

    monday: date
    carried_from: date
    signature: Signature | None
    lines: tuple[Line, ...]

    @property
    def to_decide(self) -> list[Line]:
        return [line for line in self.lines if line.is_open]

    @property
    def groups(self) -> list[Group]:
        """What is to be decided, by cost."""
        by_cost = groupby(self.to_decide, key=lambda line: line.item.cost)
        return [Group(cost, tuple(lines)) for cost, lines in by_cost]

    @property
    def carried(self) -> list[Line]:
        return [line for line in self.lines if line.stand == Stand.CARRIED]

    @property
    def decided(self) -> list[Line]:
        """With what is gone since it was decided."""
        is_over = {Stand.DECIDED, Stand.GONE}
        return [line for line in self.lines if line.stand in is_over and line.decision]

    @property
    def gone(self) -> list[Line]:
        """What went by itself: nobody had decided about it."""
        return [line for line in self.lines if line.stand == Stand.GONE and not line.decision]

    @property
    def is_decided_after(self) -> bool:
        return any(line.is_after for line in self.lines)

    @property
    def left_open(self) -> list[dict[str, str]]:
        """What a signature keeps of it: see ``logbook.models.Signature``."""
        return [
            {
                "key": line.item.key,
                "code": line.item.code,
                "words": line.item.words,
                "since": (self.monday - line.weeks * WEEK).isoformat(),
                "state": "open" if line.is_open else "carried",
            }
            for line in (*self.to_decide, *self.carried)
        ]


class Reviewed:
    """The week that is reviewed, and what earlier weeks left open."""

    def __init__(self, station: Station, since: datetime, now: datetime) -> None:
        self.station, self.since, self.now = station, since, now
        self.until, self.monday = since + WEEK, since.date()
        signed = signatures_of(station, SignatureScope.WEEK, self.monday, None)
        self.signature = signed[-1] if signed else None
        before = signed_before(station, self.monday)
        left = before.left_open if before else None
        self.left: dict[str, dict[str, str]] = {one["key"]: one for one in left or []}
        farthest = since - LOOKED_THROUGH
        self.carried_from = max(farthest, midnight(before.day) + WEEK) if before else farthest

    @property
    def looked_from(self) -> datetime:
        """The begin of the earliest week from which something may be carried."""
        began = [midnight(date.fromisoformat(one["since"])) for one in self.left.values()]
        return min([self.carried_from, *began])

    def review(
        self, transmitters: Sequence[Transmitter], standing: Mapping[int, pd.DataFrame]
    ) -> Review:
        """``standing`` are the operating points from ``looked_from`` on."""
        span = {"since": self.looked_from, "until": min(self.until, self.now)}
        found = items_of(self.station, transmitters, standing, **span, now=self.now)
        there = {one.key: one for one in found if one.began is None or one.began < self.until}
        ended = {one.key: one for one in ended_flags(self.station, self.since, self.until)}
        decisions = self.decisions({*there, *ended, *self.left})
        lines = [
            *self.lines_there(there.values(), decisions),
            *self.lines_gone(there, ended, decisions),
        ]
        return Review(
            self.monday,
            self.carried_from.date(),
            self.signature,
            tuple(sorted(lines, key=lambda line: line.item.rank)),
        )

    def decisions(self, keys: Collection[str]) -> Decisions:
        """The last one about each key, with those of this week, and of flags those of late."""
        of_late = Q(key__startswith="flag/", week__gte=self.monday - LOOKED_THROUGH)
        rows = WeekDecision.objects.filter(
            Q(key__in=keys) | Q(week=self.monday) | of_late,
            station=self.station,
            entry__ended_by__isnull=True,
        )
        rows = rows.select_related("entry__transmitter").order_by("entry__no")
        return {row.key: row for row in rows}

    def lines_there(self, items: Collection[Item], decisions: Decisions) -> Iterator[Line]:
        """What is dated and was decided in an earlier week is not told again."""
        before = {family(key): row for key, row in decisions.items() if key.startswith("flag/")}
        for item in items:
            decision = decisions.get(item.key)
            earlier = None if decision else before.get(family(item.key))
            stand, why = stand_of(item, decision, self.now.date(), earlier)
            is_told = item.is_dated and stand == Stand.DECIDED and self.weeks_of(item)
            if not (is_told and decision and decision.week != self.monday):
                yield self.line(item, stand, why, decision)

    def lines_gone(
        self, there: Mapping[str, Item], ended: Mapping[str, Item], decisions: Decisions
    ) -> Iterator[Line]:
        """What was on this list or an earlier one, and is there no more."""
        here = {key: row for key, row in decisions.items() if row.week == self.monday}
        for key in sorted({*ended, *self.left, *here} - set(there)):
            item = ended.get(key) or self.gone_item(key, decisions.get(key))
            yield self.line(item, Stand.GONE, "", decisions.get(key))

    def gone_item(self, key: str, decision: WeekDecision | None) -> Item:
        """What is known of it: the words of the decision, else those of the signature."""
        if decision:
            of = decision.entry.transmitter
            code, words = of.code if of else "", decision.words
            address = reverse("entry", args=(decision.entry.no,))
        else:
            code, words = self.left[key]["code"], self.left[key]["words"]
            address = reverse("week", args=(self.left[key]["since"],))
        return Item("gone", "", code, words, address, key=key, cost=Cost.FORMALITY)

    def line(self, item: Item, stand: Stand, why: str, decision: WeekDecision | None) -> Line:
        is_after = bool(
            self.signature
            and decision
            and decision.week == self.monday
            and decision.entry.no > self.signature.up_to_no
        )
        return Line(item, stand, why, decision, self.weeks_of(item), is_after)

    def weeks_of(self, item: Item) -> int:
        """For how many weeks before this one it is on the list."""
        began = ceil((self.since - item.began) / WEEK) if item.began else 0
        left = self.left.get(item.key)
        listed = (self.monday - date.fromisoformat(left["since"])).days // 7 if left else 0
        return max(0, began, listed)


def build_review(station: Station, since: datetime, now: datetime) -> Review:
    """The review of the week that begins on a Monday 00:00 UTC."""
    reviewed = Reviewed(station, since, now)
    transmitters = list(Transmitter.objects.filter(station=station).select_related("station"))
    standing = standing_points_of_all(transmitters, reviewed.looked_from)
    return reviewed.review(transmitters, standing)


def signed_before(station: Station, monday: date) -> Signature | None:
    """The signature of the last week before this one that was signed."""
    rows = Signature.objects.filter(
        station=station,
        scope=SignatureScope.WEEK,
        day__lt=monday,
        entry__ended_by__isnull=True,
    )
    return rows.order_by("-day", "-entry__no").first()


def midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)


def family(key: str) -> str:
    """What a flag has in common with one that is raised again: all but its first entry."""
    return key.rpartition("/")[0]
