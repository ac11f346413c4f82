"""Judging by what is expected, day by day: the seam between the log, the rules and the memory.

A day that has ended goes into the memory and is judged for shifts; of the one that still runs
only departures are judged, again at each save.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from health import memory as stored
from health.models import Judging
from health.rules import events
from health.rules.channels import Channel, MeterFacts
from health.rules.days import BY_EXPECTATION, DEPARTURE, judge_day, judge_shifts
from health.rules.episode import Episode
from health.rules.memory import Memory, begun_anew, with_channels, with_day
from health.rules.notes import notes_of_day
from health.rules.sheets import DAY_MIN, Rounds, Sheets, sheets_of
from health.sheets import channels_at, meter_facts, rounds_of
from health.spans import Span
from logbook.models import Entry, Kind
from logbook.times import instant_of, minute_of
from station.limits import LimitBook


@dataclass(frozen=True)
class Setup:
    """A transmitter with its meters and channels while no instrument changes."""

    facts: dict[int, MeterFacts]
    channels: tuple[Channel, ...]


class Events:
    """What began baselines anew, from the log: tubes and instruments, by day."""

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
    def by_day(self) -> list[tuple[int, frozenset[str]]]:
        """Days in order, with the channels that begin anew."""
        return sorted((day, frozenset(keys)) for day, keys in self.found())

    def found(self) -> Iterator[tuple[int, list[str]]]:
        current = Entry.objects.current().filter(transmitter=self.book.transmitter)
        tubes = current.filter(kind=Kind.TUBE).values_list(
            "observed_at",
            "tubemove__from_socket__code",
            "tubemove__from_socket__stage__code",
            "tubemove__to_socket__code",
            "tubemove__to_socket__stage__code",
        )
        for at, *places in tubes:
            day = minute_of(at) // DAY_MIN
            channels = self.setup_at(day).channels
            for socket, stage in (places[:2], places[2:]):
                if socket:
                    yield day, events.of_tube(channels, stage, socket)
        changes = current.filter(kind=Kind.METER).values_list("observed_at", "meterchange__meter")
        for at, meter_id in changes:
            day = minute_of(at) // DAY_MIN
            yield day, events.of_meter(self.setup_at(day).channels, meter_id)

    def begun_by(self, day: int) -> dict[str, int]:
        """By channel, the day of its newest event up to the begin of ``day``."""
        return {key: at for at, keys in self.by_day if at <= day for key in keys}

    def between(self, after: int, until: int) -> set[str]:
        """The channels begun anew on the days after < day <= until."""
        return {key for at, keys in self.by_day if after < at <= until for key in keys}


class DayJudge:
    """Judges a transmitter's days in order, from ``day`` to ``today``, that of the newest reading.

    ``standing`` are the departures and shifts that stood before.
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
        self.before = day - 1
        self.memory = self.memory_before(day) if day < today else None
        judging.learned_until = max(today, day) * DAY_MIN

    def memory_before(self, day: int) -> Memory:
        channels, begun = self.events.setup_at(day).channels, self.events.begun_by(day - 1)
        return stored.memory_at(self.book.transmitter, channels, day, begun)

    def judge(self, span: Span) -> list[Episode]:
        """The flags that began, ended or stand after a span of whole days."""
        rounds = rounds_of(self.book, span)
        found: list[Episode] = []
        for day, sheets in self.days_of(rounds):
            if day < self.today:
                found += self.close(day, sheets)
            else:
                found += self.judge_today(sheets)
        return [*found, *self.standing]

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
        memory = with_channels(self.memory, self.events.setup_at(day).channels)
        memory = begun_anew(memory, self.events.between(self.before, day))
        departures, shifts = (
            [one for one in self.standing if one.rule.endswith(kind)] for kind in BY_EXPECTATION
        )
        judged = judge_day(memory, sheets, departures)
        self.memory, self.before = with_day(memory, day, sheets, judged.values), day
        changed, shifts = judge_shifts(self.memory, sheets, shifts)
        stored.keep(self.book.transmitter, memory, self.memory)
        self.standing = [*judged.standing, *shifts]
        return [*judged.episodes, *changed, *self.notes(memory, day, sheets)]

    def notes(self, memory: Memory, day: int, sheets: Sheets) -> list[Episode]:
        return notes_of_day(memory, sheets, self.events.setup_at(day).facts)

    def judge_today(self, sheets: Sheets) -> list[Episode]:
        """The departures of the day that still runs, which is judged again at each save."""
        departures = [one for one in self.standing if one.rule.endswith(DEPARTURE)]
        memory = self.memory_today(sheets)
        judged = judge_day(memory, sheets, departures)
        shifts = [one for one in self.standing if one not in departures]
        self.standing = [*judged.standing, *shifts]
        return [*judged.episodes, *self.notes(memory, self.today, sheets)]

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
