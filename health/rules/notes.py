"""Quiet notes: rows that look as if they had been copied, and meters that do not move. Pure.

A note accuses nobody. One of copied rows begins and ends with the rows that it speaks of; one of a
meter that is stuck stands until the meter moves.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from health.rules.channels import COUNTERS, MeterFacts
from health.rules.episode import Episode
from health.rules.memory import Memory, baselines_at, known_of_rounds, place_at
from health.rules.repeats import Copied, copied
from health.rules.sheets import Sheets
from health.rules.stuck import Stuck, stuck

Numbers = npt.NDArray[np.float64]

COPIED, STUCK = "copied", "stuck"
STUCK_DAYS = 14
"""As far back a meter's readings are looked at, when a week has ended: own choice."""
PRIORITY = "low"


def copied_rows(memory: Memory, sheets: Sheets, meters: Mapping[int, MeterFacts]) -> list[Episode]:
    """The notes about rows of one day that repeat.

    Parameters
    ----------
    memory : Memory
        Of the days before.
    sheets : Sheets
        Of one day.
    meters : mapping of int to MeterFacts
    """
    ids = counted_out(meters)
    found = copied(
        sheets.by_meter[ids].to_numpy(),
        sheets.minute,
        steps=np.array([meters[key].step for key in ids]),
        scatters=scatters_behind(memory, sheets, ids),
    )
    return [note_of(one, sheets, ids) for one in found]


def stuck_meters(
    memory: Memory,
    window: Sheets,
    meters: Mapping[int, MeterFacts],
    standing: Sequence[Episode],
) -> tuple[list[Episode], list[Episode]]:
    """Meters that stay at one value: the notes that began or ended, and those that stand.

    Parameters
    ----------
    memory : Memory
        After the last day of the window.
    window : Sheets
        Of STUCK_DAYS days at most, the last of which has ended.
    meters : mapping of int to MeterFacts
    standing : sequence of Episode
        What stood before that day; other kinds are left out.
    """
    ended = [moved_on(one, window) for one in standing if one.rule == STUCK]
    still = [one for one in ended if one.until is None]
    ids = counted_out(meters)
    held = {one.meter_id for one in still}
    levels, betweens = expected_levels(memory, window, ids)
    found = stuck(
        window.by_meter[ids].to_numpy(),
        levels,
        window.retune,
        window.minute,
        steps=np.array([meters[key].step for key in ids]),
        scatters=scatters_behind(memory, window, ids),
        betweens=betweens,
    )
    new = [
        stuck_note(one, window, ids)
        for one in found
        if ids[one.meter] not in held and is_still(one, window, ids)
    ]
    return [*(one for one in ended if one.until is not None), *new], [*still, *new]


def counted_out(meters: Mapping[int, MeterFacts]) -> list[int]:
    """The meters that are no counters, by id."""
    return [key for key, one in meters.items() if one.quantity not in COUNTERS]


def moved_on(note: Episode, window: Sheets) -> Episode:
    """The note with the minute at which its meter showed another value, if it did."""
    later = window.minute > note.since
    values = window.by_meter[note.meter_id].to_numpy()[later]
    others = np.flatnonzero(~np.isnan(values) & (values != note.evidence["value"]))
    if not others.size:
        return note
    return replace(note, until=int(window.minute[later][others[0]]))


def is_still(found: Stuck, window: Sheets, ids: Sequence[int]) -> bool:
    """Whether the meter's last reading in the window is the last of the stretch."""
    values = window.by_meter[ids[found.meter]].to_numpy()
    return bool(np.flatnonzero(~np.isnan(values))[-1] == found.last)


def expected_levels(memory: Memory, window: Sheets, ids: Sequence[int]) -> tuple[Numbers, Numbers]:
    """Rounds x meters: what each should read by its baseline, and one sigma of a run's level."""
    known = known_of_rounds(memory, window)
    column = {key: number for number, key in enumerate(ids)}
    levels, betweens = (np.full((window.minute.size, len(ids)), np.nan) for _table in range(2))
    for number, one in enumerate(memory.channels):
        if not one.relation:
            rows, at = window.says[:, number], column[one.meter_id]
            levels[rows, at] = known.centre[rows, number]
            betweens[rows, at] = known.between[rows, number]
    return levels, betweens


def scatters_behind(memory: Memory, sheets: Sheets, ids: Sequence[int]) -> Numbers:
    """Each meter's scatter within a run, behind the rounding; NaN where it is not known."""
    known = baselines_at(memory, place_at(sheets, 0))
    found = dict.fromkeys(ids, np.nan)
    for column, one in enumerate(memory.channels):
        if not one.relation and not np.isnan(known.within[column]):
            behind = known.within[column] ** 2 - one.step**2 / 12
            found[one.meter_id] = float(np.sqrt(max(behind, 0.0)))
    return np.array([found[key] for key in ids])


def note_of(one: Copied, sheets: Sheets, ids: Sequence[int]) -> Episode:
    return Episode(
        rule=COPIED,
        meter_id=ids[one.meters[0]],
        first_no=int(sheets.no[one.first]),
        since=int(sheets.minute[one.first]),
        until=int(sheets.minute[one.last]),
        priority=PRIORITY,
        evidence={
            "rounds": one.last - one.first + 1,
            "meters": len(one.meters),
            "log10": round(one.log10, 2),
        },
    )


def stuck_note(one: Stuck, window: Sheets, ids: Sequence[int]) -> Episode:
    """It begins at the last reading of the stretch: only then it is known."""
    meter_id = ids[one.meter]
    return Episode(
        rule=STUCK,
        meter_id=meter_id,
        first_no=int(window.no[one.last]),
        since=int(window.minute[one.last]),
        until=None,
        priority=PRIORITY,
        evidence={
            "value": float(window.by_meter[meter_id].iloc[one.last]),
            "from_no": int(window.no[one.first]),
            "rounds": one.last - one.first + 1,
            "log10": round(one.log10, 2),
        },
    )
