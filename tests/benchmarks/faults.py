"""One fault beside its fault-free twin: whether it was found, when, and what it was taken for."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from fixtures.generator import history
from fixtures.generator.faults import Fault, draw_fault
from fixtures.generator.truth import truth_of
from health.rules.contexts import of_sheets
from health.rules.episode import Episode
from health.rules.memory import Memory
from health.rules.sheets import DAY_MIN, Sheets
from health.rules.signs import Sign, is_enough, signs_at
from health.rules.symptoms import ranked
from tests.benchmarks.plants import Plant
from tests.benchmarks.typed import Typed
from tests.benchmarks.years import ThreeSigma, Walk, judged_year, limits_of

START, DAYS = date(2025, 1, 6), 365
MOVED_SIGMAS, SEEN_SIGMAS, PAST_SIGMAS = 1.5, 2.0, 4.0
AFTER_DAYS, LATER_DAYS = 14, 7


@dataclass(frozen=True)
class Found:
    """What became of one fault.

    ``peak``: the furthest that it moved a meter, in true total sigmas. Delays are days from the
    instant at which it passed four of them, or, where it never did, from its peak's; None where it
    was not found. ``end``: that of its ramp, counted alike. ``at_flag``, ``later``, ``at_end``:
    what it was taken for at its first flag, LATER_DAYS on, and when the fault was all there.
    """

    kind: str
    transmitter: str
    ramp_days: float
    peak: float
    delay: float | None
    alarm_delay: float | None
    sigma_delay: float | None
    end: float
    by: str
    at_flag: tuple[str, ...] = ()
    later: tuple[str, ...] = ()
    at_end: tuple[str, ...] = ()

    @property
    def is_past(self) -> bool:
        return self.peak > PAST_SIGMAS

    @property
    def lead(self) -> float | None:
        """Days between the first flag and the fixed alarm, which comes at the latest never: then
        the end of the ramp counts."""
        if self.delay is None:
            return None
        return (self.end if self.alarm_delay is None else self.alarm_delay) - self.delay

    @property
    def is_before_alarm(self) -> bool:
        return self.delay is not None and (
            self.alarm_delay is None or self.delay < self.alarm_delay
        )


class Twin:
    """A fault-free year of one transmitter, judged once; from its stands faulty ones go on."""

    def __init__(self, seed: int, plant: Plant, kinds: Sequence[str]) -> None:
        self.seed, self.plant = seed, plant
        start = np.datetime64(START)
        self.faults = [draw_fault(seed, kind, plant.code, start, DAYS) for kind in kinds]
        self.made = history(seed, START, DAYS, (plant.code,))
        typed = Typed(self.made, plant)
        walk = judged_year(typed, None, [day_of(one.start) for one in self.faults])
        self.stands = walk.stands
        self.three_sigma = ThreeSigma(typed.sheets)
        self.known = by_rule([*walk.flags.values(), *self.three_sigma.flags(typed.sheets)])

    def stood(self, minute: int) -> list[Episode]:
        """The flags of fixed limits that stood at a minute."""
        return [
            one
            for (rule, _meter), flags in self.known.items()
            if rule.startswith("limit")
            for one in flags
            if one.since < minute and (one.until is None or one.until >= minute)
        ]

    def is_known(self, flag: Episode) -> bool:
        """Whether a flag alike stood here within two days of this one's begin."""
        return any(is_near(flag, one) for one in self.known[flag.rule, flag.meter_id])


def by_rule(flags: Sequence[Episode]) -> dict[tuple[str, int], list[Episode]]:
    found = defaultdict(list)
    for one in flags:
        found[one.rule, one.meter_id].append(one)
    return found


def is_near(one: Episode, other: Episode) -> bool:
    ends = other.until is None or other.until >= one.since - 2 * DAY_MIN
    return other.since <= one.since + 2 * DAY_MIN and ends


def minute_of(instant: np.datetime64) -> int:
    return int(instant.astype("datetime64[m]").astype(np.int64))


def day_of(instant: np.datetime64) -> int:
    return minute_of(instant) // DAY_MIN


class Faulty:
    """The same year with one fault, judged from the fault's first day to the end of its window."""

    def __init__(self, fault: Fault, twin: Twin) -> None:
        self.fault, self.twin, self.plant = fault, twin, twin.plant
        made = history(twin.seed, START, DAYS, (self.plant.code,), fault)
        self.truth = truth_of(fault, made, twin.made)
        self.peaks = self.truth.meters["peak"].abs()
        self.made = made

    @property
    def is_seen(self) -> bool:
        return bool(self.peaks.max() > SEEN_SIGMAS)

    @property
    def past(self) -> int:
        """When it passed four sigmas; of one that never did, when it was at its peak."""
        past = self.truth.meters["first_past_4"].dropna()
        if past.empty:
            return minute_of(self.fault.ramp_end)
        return minute_of(min(past).tz_localize(None).to_datetime64())

    def judged(self) -> Found:
        typed = Typed(self.made, self.plant)
        since, until = self.window
        sheets = typed.sheets_between(since // DAY_MIN, until // DAY_MIN + LATER_DAYS)
        self.walk = Walk(typed, self.twin.stands[since // DAY_MIN]).over(sheets)
        begin = since // DAY_MIN * DAY_MIN
        limits = limits_of(typed, self.walk.kept, self.twin.stood(begin))
        ways = (
            [*self.walk.flags.values(), *limits],
            limits,
            self.twin.three_sigma.flags(sheets),
        )
        self.first, *others = (self.first_net(flags) for flags in ways)
        delays = [self.delay(one) for one in (self.first, *others)]
        return Found(
            self.fault.kind,
            self.plant.code,
            self.fault.ramp_days,
            float(self.peaks.max()),
            *delays,
            end=(minute_of(self.fault.ramp_end) - self.past) / DAY_MIN,
            by=self.first.rule if self.first else "",
            **self.taken_for(),
        )

    def taken_for(self) -> dict[str, tuple[str, ...]]:
        if self.first is None:
            return {}
        day = self.first.since // DAY_MIN
        at_flag = self.at_flag(day)
        later = self.at_ends_of(day, day + LATER_DAYS) or at_flag
        grown = max(day, self.window[1] // DAY_MIN - AFTER_DAYS + 1)
        return {
            "at_flag": at_flag,
            "later": later,
            "at_end": self.at_ends_of(day, grown) or later,
        }

    def at_flag(self, day: int) -> tuple[str, ...]:
        """What the flag was taken for with the rounds that were read when it began."""
        walk, minute = self.walk, self.first.since
        place = walk.place_of(day)
        sheets = walk.kept[place]
        read = sheets.taken(slice(0, int(np.searchsorted(sheets.minute, minute, side="right"))))
        ends_the_day = minute == sheets.minute[-1]
        memory = walk.memories[place + 1] if ends_the_day else walk.memories[place]
        return told(signs_at(memory, read, self.plant.facts), memory, read)

    def at_ends_of(self, first: int, last: int) -> tuple[str, ...]:
        """What the newest day on which anything stood out was taken for, of first < day <= last."""
        for place in range(self.walk.place_of(last), self.walk.place_of(first), -1):
            memory, sheets = self.walk.memories[place + 1], self.walk.kept[place]
            signs = signs_at(memory, sheets, self.plant.facts)
            if is_enough(signs):
                return told(signs, memory, sheets)
        return ()

    @property
    def window(self) -> tuple[int, int]:
        end = max(minute_of(self.fault.ramp_end), self.past) + AFTER_DAYS * DAY_MIN
        return minute_of(self.fault.start), end

    def first_net(self, flags: Sequence[Episode]) -> Episode | None:
        """The first flag on a moved meter in the fault's time that the twin does not raise."""
        moved = {
            key
            for key, one in self.plant.facts.items()
            if self.peaks.get(one.code, 0) >= MOVED_SIGMAS
        }
        since, until = self.window
        own = (
            one for one in sorted(flags, key=lambda one: one.since) if since <= one.since <= until
        )
        return next(
            (
                one
                for one in own
                if moved & meters_of(one, self.plant) and not self.twin.is_known(one)
            ),
            None,
        )

    def delay(self, flag: Episode | None) -> float | None:
        return None if flag is None else (flag.since - self.past) / DAY_MIN


def meters_of(flag: Episode, plant: Plant) -> set[int]:
    channel = flag.evidence.get("channel")
    ids = [one.meter_ids for one in plant.channels if one.key == channel]
    return set(ids[0]) if ids else {flag.meter_id}


def told(signs: Sequence[Sign], memory: Memory, sheets: Sheets) -> tuple[str, ...]:
    return tuple(one.id for one in ranked(signs, of_sheets(memory, sheets)))
