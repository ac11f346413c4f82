"""Judging by what is expected, day by day: the seam between the log, the rules and the memory.

A day that has ended goes into the memory and is judged for shifts and for meters that are stuck;
the one that still runs is judged for the rest, again at each save.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from itertools import pairwise

import numpy as np
from django.db.models import Q

from health import memory as stored
from health import symptoms
from health.models import Judging, SymptomMatch
from health.rules import events
from health.rules.channels import Channel, MeterFacts
from health.rules.closing import close_day
from health.rules.days import BEYOND, DEPARTURE, SHIFT, judge_day
from health.rules.episode import Episode
from health.rules.events import Begun, Event
from health.rules.memory import Memory, begun_anew, with_channels
from health.rules.notes import STUCK, STUCK_DAYS, copied_rows
from health.rules.pattern import PATTERN
from health.rules.sheets import DAY_MIN, Rounds, Sheets, joined, sheets_of
from health.rules.signs import LOOK_BACK
from health.sheets import channels_at, meter_facts, rounds_of
from health.spans import Span, read_span
from logbook.models import Entry, Kind
from logbook.models.check import WORKS, CheckMade, Topic
from logbook.times import instant_of, minute_of
from station.limits import LimitBook

AT_DAY_END = (SHIFT, PATTERN, STUCK)
BY_DAYS = (DEPARTURE, BEYOND, *AT_DAY_END)
"""How the names of the rules end that are judged here."""


@dataclass(frozen=True)
class Setup:
    """A transmitter with its meters and channels while no instrument changes."""

    facts: dict[int, MeterFacts]
    channels: tuple[Channel, ...]


class Events:
    """What began baselines anew, from the log: tubes, instruments, work on coils and antennas."""

    def __init__(self, book: LimitBook) -> None:
        self.book = book
        self.setups: dict[int, Setup] = {}

    def setup_at(self, day: int) -> Setup:
        """The meters as they stand at the begin of a day; instruments change seldom."""
        at = instant_of(day * DAY_MIN)
        number = bisect_right(self.book.epochs, at)
        if number not in self.setups:
            facts = meter_facts(self.book, at)
            self.setups[number] = Setup(facts, channels_at(facts))
        return self.setups[number]

    @cached_property
    def found(self) -> list[Event]:
        return [*self.of_changes(), *self.of_works()]

    def of_changes(self) -> Iterator[Event]:
        """Of tubes and of instruments."""
        changes = Entry.objects.current().filter(
            transmitter=self.book.transmitter, kind__in=[Kind.TUBE, Kind.METER]
        )
        rows = changes.values_list(
            "observed_at",
            "meterchange__meter",
            "tubemove__from_socket__code",
            "tubemove__from_socket__stage__code",
            "tubemove__to_socket__code",
            "tubemove__to_socket__stage__code",
        )
        for at, meter_id, *places in rows:
            day, channels = self.day_of(at)
            if meter_id:
                yield Event(day, events.of_meter(channels, meter_id))
            for socket, stage in (places[:2], places[2:]):
                if socket:
                    yield Event(day, events.of_tube(channels, stage, socket))

    def of_works(self) -> Iterator[Event]:
        """On a coil set of the transmitter, or on any antenna of the station: the places there."""
        station = self.book.transmitter.station_id
        works = CheckMade.objects.filter(
            Q(entry__transmitter=self.book.transmitter) | Q(entry__transmitter=None),
            station=station,
            topic__in=WORKS,
            entry__ended_by__isnull=True,
        )
        for at, topic, facts in works.values_list("entry__observed_at", "topic", "facts"):
            day, channels = self.day_of(at)
            is_antenna = topic == Topic.ANTENNA_WORK
            places = {facts["antenna"]} if is_antenna else self.waves[facts["coil_set"]]
            if places:
                yield Event(day, events.of_work(channels), frozenset(places))

    @cached_property
    def waves(self) -> dict[str, set[str]]:
        """The waves of each coil set, as the places' words have them."""
        found: dict[str, set[str]] = defaultdict(set)
        waves = self.book.transmitter.waves.values_list("coil_set__code", "frequency_khz")
        for coil_set, khz in waves:
            found[coil_set].add(f"{khz:g}")
        return found

    def day_of(self, at: datetime) -> tuple[int, tuple[Channel, ...]]:
        day = minute_of(at) // DAY_MIN
        return day, self.setup_at(day).channels

    def begun_by(self, day: int) -> Begun:
        """What began anew up to the begin of ``day``."""
        return Begun(one for one in self.found if one.day <= day)

    def between(self, after: int, until: int) -> list[Event]:
        """The events on the days after < day <= until."""
        return [one for one in self.found if after < one.day <= until]


class DayJudge:
    """Judges a transmitter's days in order, from ``day`` to ``today``, that of the newest reading.

    ``standing`` are the flags of its rules that stood before.
    """

    def __init__(
        self, judging: Judging, book: LimitBook, day: int, today: int, standing: list[Episode]
    ) -> None:
        self.book = book
        self.events = Events(book)
        self.today = today
        self.standing = standing
        if day * DAY_MIN < (judging.learned_until or 0):
            stored.forget_from(book.transmitter, day)
        symptoms.forget_from(book.transmitter, day)
        self.before = day - 1
        self.first = day
        self.last_days: list[tuple[int, Sheets]] = []
        self.memory = self.memory_before(day) if day < today else None
        self.judged_by: Memory | None = None
        judging.learned_until = max(today, day) * DAY_MIN

    def memory_before(self, day: int) -> Memory:
        channels, begun = self.events.setup_at(day).channels, self.events.begun_by(day - 1)
        return stored.memory_at(self.book.transmitter, channels, day, begun)

    def judge(self, span: Span, by_limits: Sequence[Episode]) -> list[Episode]:
        """The flags that began, ended or stand after a span of whole days; on the days on which
        any stood, those of the limits too, the symptoms are matched and stored."""
        rounds = rounds_of(self.book, span)
        found: list[Episode] = []
        matches = []
        for day, sheets in self.days_of(rounds):
            of_day = self.close(day, sheets) if day < self.today else self.judge_today(sheets)
            flags = symptoms.stood_on([*of_day, *self.standing, *by_limits], day)
            if flags:
                matches.append(self.matched(day, sheets, flags))
            found += of_day
        SymptomMatch.objects.bulk_create(one for one in matches if one is not None)
        return [*found, *self.standing]

    def matched(self, day: int, sheets: Sheets, flags: Sequence[Episode]) -> SymptomMatch | None:
        meters = self.events.setup_at(day).facts
        memory = self.memory if day < self.today else self.with_last_days()
        assert memory is not None
        return symptoms.matched(self.book.transmitter, memory, sheets, meters, flags)

    def with_last_days(self) -> Memory | None:
        """What today was judged by, with the days that signs look back on."""
        memory = self.judged_by
        if self.memory is not None or memory is None:
            return memory
        begun = self.events.begun_by(self.today)
        first = self.today - LOOK_BACK - 1
        channels = memory.channels
        days = stored.days_of(self.book.transmitter, channels, first, self.today, begun)
        return replace(memory, days=days)

    def days_of(self, rounds: Rounds) -> Iterator[tuple[int, Sheets]]:
        """The days with rounds on the air, each by the instruments of its begin."""
        day = rounds.minute // DAY_MIN
        changes = np.array([minute_of(at) // DAY_MIN + 1 for at in self.book.epochs], dtype=int)
        number = np.searchsorted(changes, day, side="right")
        edges = np.flatnonzero(np.diff(number, prepend=-1))
        for begin, end in pairwise([*edges, number.size]):
            setup = self.events.setup_at(int(day[begin]))
            part = rounds.taken(slice(begin, end))
            yield from sheets_of(part, setup.facts, setup.channels).days()

    def close(self, day: int, sheets: Sheets) -> list[Episode]:
        """Judge a day that has ended, and add it to the memory."""
        assert self.memory is not None
        setup = self.events.setup_at(day)
        memory = with_channels(self.memory, setup.channels)
        memory = begun_anew(memory, self.events.between(self.before, day))
        self.last_days.append((day, sheets))
        closed = close_day(memory, sheets, setup.facts, self.standing, lambda: self.window_to(day))
        self.memory, self.before = closed.memory, day
        stored.keep(self.book.transmitter, memory, closed.memory)
        self.standing = list(closed.standing)
        return list(closed.episodes)

    def window_to(self, day: int) -> Sheets:
        """The last days, back to the last change of an instrument."""
        first = day + 1 - STUCK_DAYS
        if self.first > first:
            span = read_span(self.book, max(first, 0) * DAY_MIN, self.first * DAY_MIN)
            self.last_days = [*self.days_of(rounds_of(self.book, span)), *self.last_days]
            self.first = first
        setup = self.events.setup_at(day)
        self.last_days = [
            (one, part)
            for one, part in self.last_days
            if one >= first and self.events.setup_at(one) is setup
        ]
        return joined([part for _day, part in self.last_days])

    def judge_today(self, sheets: Sheets) -> list[Episode]:
        """The departures of the day that still runs, which is judged again at each save."""
        facts = self.events.setup_at(self.today).facts
        memory = self.judged_by = self.memory_today(sheets)
        judged = judge_day(memory, sheets, facts, self.standing)
        kept = [one for one in self.standing if one.rule.endswith(AT_DAY_END)]
        self.standing = [*judged.standing, *kept]
        return [*judged.episodes, *copied_rows(memory, sheets, facts)]

    def memory_today(self, sheets: Sheets) -> Memory:
        channels, begun = (
            self.events.setup_at(self.today).channels,
            self.events.begun_by(self.today),
        )
        if self.memory is None:
            return stored.memory_of_places(
                self.book.transmitter, channels, self.today, begun, places(sheets)
            )
        memory = with_channels(self.memory, channels)
        return begun_anew(memory, self.events.between(self.before, self.today))


def places(sheets: Sheets) -> set[str]:
    return {str(word) for words in sheets.places.values() for word in words}
