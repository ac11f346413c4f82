"""Quiet notes about a day: rows that look as if they had been copied. Pure.

A note begins and ends with the rows that it speaks of; it never stands, and accuses nobody.
"""

import numpy as np
import numpy.typing as npt

from health.rules.channels import COUNTERS, MeterFacts
from health.rules.episode import Episode
from health.rules.memory import Memory, baselines_at, place_at
from health.rules.repeats import Copied, copied
from health.rules.sheets import Sheets

COPIED = "copied"
PRIORITY = "low"


def notes_of_day(memory: Memory, sheets: Sheets, meters: dict[int, MeterFacts]) -> list[Episode]:
    """The notes about a day's rounds.

    Parameters
    ----------
    memory : Memory
        Of the days before.
    sheets : Sheets
        Of one day.
    meters : dict of int to MeterFacts
    """
    ids = [key for key, one in meters.items() if one.quantity not in COUNTERS]
    found = copied(
        sheets.by_meter[ids].to_numpy(),
        sheets.minute,
        steps=np.array([meters[key].step for key in ids]),
        scatters=scatters_behind(memory, sheets, ids),
    )
    return [note_of(one, sheets, ids) for one in found]


def scatters_behind(memory: Memory, sheets: Sheets, ids: list[int]) -> npt.NDArray[np.float64]:
    """Each meter's scatter within a run, behind the rounding; NaN where it is not known."""
    known = baselines_at(memory, place_at(sheets, 0))
    found = dict.fromkeys(ids, np.nan)
    for column, one in enumerate(memory.channels):
        if not one.relation and not np.isnan(known.within[column]):
            behind = known.within[column] ** 2 - one.step**2 / 12
            found[one.meter_id] = float(np.sqrt(max(behind, 0.0)))
    return np.array([found[key] for key in ids])


def note_of(one: Copied, sheets: Sheets, ids: list[int]) -> Episode:
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
