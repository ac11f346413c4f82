"""Generated years of the demo station judged day by day, without a database's detour."""

from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from health.frames import judge_frame
from health.rules.closing import close_day
from health.rules.episode import Episode
from health.rules.events import Event, of_tube
from health.rules.judge import Carry, judge
from health.rules.memory import Memory, begun_anew
from health.rules.notes import STUCK_DAYS
from health.rules.sheets import DAY_MIN, Sheets, joined
from health.spans import Span
from tests.benchmarks.plants import Plant, tube_days
from tests.benchmarks.typed import Asked, Typed


@dataclass(frozen=True)
class Stand:
    """What the judge knew at the begin of a day: its memory, the flags by expectation that stood,
    and the sheets of the last days."""

    memory: Memory
    standing: tuple[Episode, ...] = ()
    last_days: tuple[Sheets, ...] = ()


def beginning(plant: Plant) -> Stand:
    return Stand(Memory(plant.channels))


class Walk:
    """A transmitter's days judged one after the other, from a stand on.

    ``flags``: all of them by key, as they are now; ``stands``: what was known at the begin of each
    ``wanted`` day; ``kept``: the sheets of each day as they stand in the log; ``memories``: what
    was remembered before the first of them and after each.
    """

    def __init__(self, typed: Typed, stand: Stand, wanted: Collection[int] = ()) -> None:
        self.typed, self.stand = typed, stand
        self.wanted = frozenset(wanted)
        self.stands: dict[int, Stand] = {}
        self.flags: dict[tuple[str, int, int], Episode] = {}
        self.kept: list[Sheets] = []
        self.memories = [stand.memory]
        self.tubes = tube_days(typed.made, typed.plant)

    def over(self, sheets: Sheets, asked: Asked | None = None) -> "Walk":
        """Judge the days of some sheets. With ``asked`` everything is typed with its slips, and who
        is asked reads again; without, all slips were put right."""
        for day, of_day in sheets.days():
            before = self.stand.memory.last.day
            self.stands |= {one: self.stand for one in self.wanted if before < one <= day}
            self.close(day, of_day, asked)
        return self

    def place_of(self, day: int) -> int:
        """The place in ``kept`` of the newest day up to this one."""
        return bisect_right([int(one.day[0]) for one in self.kept], day) - 1

    def close(self, day: int, sheets: Sheets, asked: Asked | None) -> None:
        plant, known = self.typed.plant, self.stand
        before = known.memory.last.day
        begun = [
            Event(day, of_tube(plant.channels, *place))
            for of_day, places in self.tubes.items()
            if before < of_day <= day
            for place in places
        ]
        memory = begun_anew(known.memory, begun)
        if asked is not None:
            sheets = self.typed.read_again(memory, sheets, asked)
        last = (*(one for one in known.last_days if one.day[0] > day - STUCK_DAYS), sheets)
        closed = close_day(memory, sheets, plant.facts, known.standing, lambda: joined(last))
        self.flags |= {one.key: one for one in closed.episodes}
        self.kept.append(sheets)
        self.memories.append(closed.memory)
        self.stand = Stand(closed.memory, closed.standing, last)


def judged_year(typed: Typed, asked: Asked | None, wanted: Collection[int] = ()) -> Walk:
    """A whole year, with the flags of the fixed limits."""
    walk = Walk(typed, beginning(typed.plant), wanted).over(typed.sheets, asked)
    walk.flags |= {one.key: one for one in limits_of(typed, walk.kept)}
    return walk


def confirmed_of(plant: Plant, kept: Sequence[Sheets], rows: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Which values were read twice, because they were asked about: as ``rows``, in one row."""
    table = pd.DataFrame(False, index=range(len(rows)), columns=rows.columns)
    confirmed = np.concatenate([one.is_confirmed for one in kept])
    for place, one in enumerate(plant.channels):
        if not one.relation:
            table[one.meter_id] |= confirmed[:, place]
    return table.to_numpy().ravel()


def limits_of(
    typed: Typed, kept: Sequence[Sheets], standing: Sequence[Episode] = ()
) -> list[Episode]:
    """The flags of the fixed limits on what stands in the log."""
    rows = pd.concat([one.by_meter for one in kept])
    minute = np.concatenate([one.minute for one in kept])
    no = np.concatenate([one.no for one in kept])
    place = np.searchsorted(typed.rounds.minute, minute)
    long = (
        pd.DataFrame(
            {
                "minute": np.repeat(minute, rows.shape[1]),
                "no": np.repeat(no, rows.shape[1]),
                "meter_id": np.tile(rows.columns.to_numpy(), len(rows)),
                "value": rows.to_numpy().ravel(),
                "code": "",
                "bound": "",
                "mark": np.where(confirmed_of(typed.plant, kept, rows), "=", ""),
                "modulation": np.repeat(typed.rounds.modulation[place], rows.shape[1]),
            }
        )
        .dropna(subset=["value"])
        .reset_index(drop=True)
    )
    span = Span(long, typed.standing, int(minute[0]), int(minute[-1]) + 1)
    episodes, _carry = judge(judge_frame(typed.plant.book, span), Carry(tuple(standing)))
    return episodes


class ThreeSigma:
    """Each meter against mean and sigma of a year's first four weeks, whatever the operating
    point."""

    FIRST_DAYS = 28

    def __init__(self, sheets: Sheets) -> None:
        first = sheets.by_meter[sheets.minute < sheets.minute[0] + self.FIRST_DAYS * DAY_MIN]
        self.until = int(sheets.minute[0]) + self.FIRST_DAYS * DAY_MIN
        self.mean, self.sigma = first.mean(), first.std(ddof=0)

    def flags(self, sheets: Sheets) -> list[Episode]:
        found = []
        for meter_id, values in sheets.by_meter.items():
            away = np.abs(values.to_numpy() - self.mean[meter_id])
            is_beyond = away > 3 * self.sigma[meter_id]
            begins = np.flatnonzero(is_beyond & ~np.append(False, is_beyond[:-1]))
            of_meter = [(int(sheets.no[at]), int(sheets.minute[at])) for at in begins]
            found += [
                Episode("three-sigma", int(meter_id), no, minute, minute, "low")
                for no, minute in of_meter
                if minute >= self.until
            ]
        return found
