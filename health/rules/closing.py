"""A day that has ended: everything that is judged and learned of it, in its order. Pure."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from health.rules.channels import MeterFacts
from health.rules.days import judge_day, judge_shifts
from health.rules.episode import Episode
from health.rules.learning import with_day
from health.rules.memory import Memory
from health.rules.notes import STUCK, copied_rows, stuck_meters
from health.rules.pattern import judge_pattern
from health.rules.sheets import Sheets
from health.statistics.drift import ends_week


@dataclass(frozen=True)
class Closed:
    """What began or ended in the day, what stands after it, and what is remembered."""

    episodes: tuple[Episode, ...]
    standing: tuple[Episode, ...]
    memory: Memory


def close_day(
    memory: Memory,
    sheets: Sheets,
    meters: Mapping[int, MeterFacts],
    standing: Sequence[Episode],
    window: Callable[[], Sheets],
) -> Closed:
    """Judge a day that has ended, and add it to the memory.

    Parameters
    ----------
    memory : Memory
        Of the days before.
    sheets : Sheets
        Of that one day.
    meters : mapping of int to MeterFacts
    standing : sequence of Episode
        What stood at its begin.
    window : callable
        Gives the sheets of the last STUCK_DAYS up to this day; asked for once a week.

    Returns
    -------
    Closed
    """
    day = int(sheets.day[0])
    judged = judge_day(memory, sheets, meters, standing)
    after = with_day(memory, day, sheets, judged.values)
    moved, shifts = judge_shifts(after, sheets, standing)
    signals, patterns = judge_pattern(after, sheets, [*standing, *judged.standing, *shifts])
    held: list[Episode] = []
    stuck = [one for one in standing if one.rule == STUCK]
    if ends_week(day):
        held, stuck = stuck_meters(after, window(), meters, standing)
    copied = copied_rows(memory, sheets, meters)
    return Closed(
        episodes=(*judged.episodes, *moved, *signals, *held, *copied),
        standing=(*judged.standing, *shifts, *patterns, *stuck),
        memory=after,
    )
