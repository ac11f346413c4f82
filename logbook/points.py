"""The operating point at an instant, joined from the changes of state. Pure.

A log row never carries its operating point: a change that was written late or corrected moves
every reading after it without touching one.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

POINT_COLUMNS = ["state", "frequency_khz", "antenna", "coil_set", "power_kw", "set_by"]


@dataclass(frozen=True)
class OperatingPoint:
    """How a transmitter stands: None or '' is 'not known'.

    ``run`` is the number of the entry that began the run, 0 before the first.
    """

    state: str = ""
    frequency_khz: float | None = None
    antenna: str = ""
    coil_set: str = ""
    power_kw: float | None = None
    set_by: str = ""
    run: int = 0
    since: pd.Timestamp | None = None


def intervals(changes: pd.DataFrame) -> pd.DataFrame:
    """The standing operating point from each change to the next.

    Parameters
    ----------
    changes : DataFrame
        One row a change of one transmitter: ``observed_at`` (UTC), ``no`` (entry number),
        POINT_COLUMNS with missing for 'did not change', ``is_retune`` (bool). Any order.

    Returns
    -------
    DataFrame
        The same columns ordered by instant, then number, with what did not change carried
        forward; ``run``: number of the entry that began the run (a retune, or a wave that was
        stated), 0 before the first; ``since``: the start of the state.

    Example
    -------
    >>> changes = pd.DataFrame({
    ...     "observed_at": pd.to_datetime(["2026-03-01T06:00Z", "2026-03-01T07:00Z"]),
    ...     "no": [1, 2], "state": ["on_air", None], "frequency_khz": [6105.0, 9690.0],
    ...     "antenna": ["A1", "A2"], "coil_set": ["1", "2"], "power_kw": [200.0, np.nan],
    ...     "set_by": ["tap", None], "is_retune": [True, True]})
    >>> intervals(changes)[["state", "frequency_khz", "power_kw", "run"]].values.tolist()
    [['on_air', 6105.0, 200.0, 1], ['on_air', 9690.0, 200.0, 2]]
    """
    ordered = changes.sort_values(["observed_at", "no"], kind="stable").reset_index(drop=True)
    begins_run = ordered["is_retune"].astype(bool) | ordered["frequency_khz"].notna()
    ordered["run"] = ordered["no"].where(begins_run).ffill().fillna(0).astype(int)
    ordered[POINT_COLUMNS] = ordered[POINT_COLUMNS].ffill()
    is_new_state = ordered["state"].ne(ordered["state"].shift())
    ordered["since"] = ordered["observed_at"].where(is_new_state).ffill()
    return ordered


def interval_index(standing: pd.DataFrame, minutes: npt.NDArray[np.int64]) -> npt.NDArray[np.intp]:
    """The row of ``standing`` in force at each whole minute since 1970 UTC; -1 before the first.

    A change within a minute is in force for a reading of that minute.
    """
    starts = standing["observed_at"].dt.tz_localize(None).to_numpy("datetime64[m]").astype(int)
    return np.searchsorted(starts, minutes, side="right") - 1


def points_at(standing: pd.DataFrame, minutes: npt.NDArray[np.int64]) -> pd.DataFrame:
    """The operating point at each minute: POINT_COLUMNS, ``run``, ``since``; missing before."""
    columns = [*POINT_COLUMNS, "run", "since"]
    found = interval_index(standing, minutes)
    points = standing[columns].reindex(found).reset_index(drop=True)
    points["run"] = points["run"].fillna(0).astype(int)
    return points


def points_by_minute(standing: pd.DataFrame, minutes: Iterable[int]) -> dict[int, OperatingPoint]:
    """The operating point at each of these minutes, for a page."""
    wanted = np.array(sorted(set(minutes)), dtype=np.int64)
    found = points_at(standing, wanted).astype(object)
    rows = found.where(found.notna(), None).to_dict("records")
    return {int(minute): operating_point(row) for minute, row in zip(wanted, rows, strict=True)}


def operating_point(row: Mapping[Hashable, Any]) -> OperatingPoint:
    words = {name: row[name] or "" for name in ("state", "antenna", "coil_set", "set_by")}
    return OperatingPoint(
        **words,
        frequency_khz=row["frequency_khz"],
        power_kw=row["power_kw"],
        run=int(row["run"]),
        since=row["since"],
    )


def point_at(standing: pd.DataFrame, minute: int) -> OperatingPoint:
    """One operating point, for a page."""
    return points_by_minute(standing, [minute])[minute]
