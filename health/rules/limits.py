"""The rule of fixed alarm limits: inclusive, with a deadband, in every live state.

A warning limit marks the cell on the sheet and raises nothing here.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from health.rules.episode import Episode
from health.rules.sheets import DAY_MIN

RULES = {"high": "limit-high", "low": "limit-low"}

SUPPRESSED = "is_suppressed"
"""In the evidence of an episode that a change of state ended."""

Flags = npt.NDArray[np.bool_]


def judge_limits(frame: pd.DataFrame, standing: list[Episode]) -> list[Episode]:
    """Episodes that stand after, began or ended in ``frame``.

    Parameters
    ----------
    frame : DataFrame
        One row a reading, ordered by minute, then entry number: ``minute``, ``no``, ``meter_id``,
        ``value`` [the meter's unit, NaN where a code stands], ``bound`` ('>', '<' or ''),
        ``mark`` ('=' for read twice),
        ``low_alarm``, ``high_alarm`` [the meter's unit, NaN: no limit], ``deadband`` [the same],
        ``limit_id``, ``priority``, ``is_live`` (False: the state suppresses the meter),
        ``is_vital`` (True: at or below the low limit it is of high priority, whatever ``priority``
        says).
    standing : list of Episode
        Those open before the frame's first row.

    Returns
    -------
    list of Episode
        All of ``standing``, ended or not, then the new ones by entry number.

    Notes
    -----
    At or beyond the limit an episode begins, once it is sure: read twice, the meter's second
    reading of the day in a row there, off the scale, or of high priority. A crossing that is not
    sure asks for a re-read and raises nothing. An episode ends when a value is back by the
    deadband, when the state suppresses the meter, or when no limit holds any more. A reading
    without a number says nothing: it neither begins nor ends. What the state ended has SUPPRESSED
    in its evidence: the value did not return.

    Source
    ------
    IEC 62682, deadband and suppression by design (from memory).
    """
    return [
        episode
        for side in RULES
        for episode in judge_side(frame, side, [e for e in standing if e.rule == RULES[side]])
    ]


def judge_side(frame: pd.DataFrame, side: str, standing: list[Episode]) -> list[Episode]:
    if frame.empty or (not standing and not said(frame, side)[0].any()):
        return standing
    ordered = frame.sort_values("meter_id", kind="stable").reset_index(drop=True)
    is_active = carried(ordered, side, {episode.meter_id for episode in standing})
    before = previous(ordered, is_active, {episode.meter_id for episode in standing})
    begins = np.flatnonzero(is_active & ~before)
    ends = np.flatnonzero(~is_active & before)
    return [
        *(ended(episode, ordered, ends) for episode in standing),
        *(begun(ordered, side, int(row), ends) for row in begins),
    ]


def carried(ordered: pd.DataFrame, side: str, active_meters: set[int]) -> Flags:
    """Whether an episode stands at each row: set, cleared, or as before where nothing is said."""
    is_beyond, is_clear = said(ordered, side)
    begins = is_beyond & is_sure(ordered, side, is_beyond)
    verdict = pd.Series(np.where(begins, 1.0, np.where(is_clear, 0.0, np.nan)))
    filled = verdict.groupby(ordered["meter_id"]).ffill()
    before = ordered["meter_id"].isin(active_meters).to_numpy()
    is_standing: Flags = np.where(filled.isna(), before, filled == 1.0)
    return is_standing


def said(ordered: pd.DataFrame, side: str) -> tuple[Flags, Flags]:
    """Which rows are at or beyond the limit, and which are clear of it."""
    sign = 1 if side == "high" else -1
    value = ordered["value"].to_numpy() * sign
    limit = ordered[f"{side}_alarm"].to_numpy() * sign
    is_off_scale = (ordered["bound"] == (">" if side == "high" else "<")).to_numpy()
    is_live = ordered["is_live"].to_numpy(dtype=bool)
    has_limit = ~np.isnan(limit)
    is_beyond = is_live & has_limit & ((value >= limit) | is_off_scale)
    is_back = value <= limit - ordered["deadband"].to_numpy()
    is_clear = ~is_live | ~has_limit | (is_back & ~is_beyond)
    return is_beyond, is_clear


def priorities(ordered: pd.DataFrame, side: str) -> "pd.Series[str]":
    """The register's, but of what is vital."""
    return ordered["priority"].mask(ordered["is_vital"].astype(bool) & (side == "low"), "high")


def is_sure(ordered: pd.DataFrame, side: str, is_beyond: Flags) -> Flags:
    """Whether a reading beyond a limit is more than a slip or a flicker."""
    same = ["meter_id", "day"]
    keys = ordered.assign(day=ordered["minute"] // DAY_MIN)[same]
    follows = keys.eq(keys.shift()).all(axis=1).to_numpy()
    repeats = follows & np.append(False, is_beyond[:-1])
    is_pressing = priorities(ordered, side).eq("high")
    is_at_once = ordered["bound"].ne("") | ordered["mark"].eq("=") | is_pressing
    return np.asarray(repeats | is_at_once.to_numpy())


def previous(ordered: pd.DataFrame, is_active: Flags, active_meters: set[int]) -> Flags:
    """``is_active`` of the row before of the same meter; of the carry for its first row."""
    meters = ordered["meter_id"].to_numpy()
    is_first = np.append(True, meters[1:] != meters[:-1])
    shifted = np.append(False, is_active[:-1])
    return np.where(is_first, np.isin(meters, list(active_meters)), shifted)


def first_end(ordered: pd.DataFrame, meter_id: int, ends: npt.NDArray[np.intp], after: int) -> int:
    """The row at which this meter's episode ends, -1 if it still stands."""
    same = ends[(ends > after) & (ordered["meter_id"].to_numpy()[ends] == meter_id)]
    return int(same[0]) if len(same) else -1


def ended(episode: Episode, ordered: pd.DataFrame, ends: npt.NDArray[np.intp]) -> Episode:
    row = first_end(ordered, episode.meter_id, ends, -1)
    return ended_at(episode, ordered.iloc[row]) if row >= 0 else episode


def ended_at(episode: Episode, reading: "pd.Series[Any]") -> Episode:
    why = {} if reading["is_live"] else {SUPPRESSED: True}
    return replace(episode, until=int(reading["minute"]), evidence={**episode.evidence, **why})


def begun(ordered: pd.DataFrame, side: str, row: int, ends: npt.NDArray[np.intp]) -> Episode:
    reading = ordered.iloc[row]
    end = first_end(ordered, reading["meter_id"], ends, row)
    episode = Episode(
        rule=RULES[side],
        meter_id=int(reading["meter_id"]),
        first_no=int(reading["no"]),
        since=int(reading["minute"]),
        until=None,
        priority=str(priorities(ordered.iloc[[row]], side).iloc[0]),
        evidence={
            "value": None if np.isnan(reading["value"]) else float(reading["value"]),
            "bound": str(reading["bound"]),
            "limit": float(reading[f"{side}_alarm"]),
            "limit_id": int(reading["limit_id"]),
        },
    )
    return ended_at(episode, ordered.iloc[end]) if end >= 0 else episode
