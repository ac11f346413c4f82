"""Where the dials stood on a wave before: what to set them to at the next change. Pure.

A run is the time between two retunes. Its setting of a dial is the dial's first reading in it:
later ones show what was trimmed for the weather.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from station.states import ON_AIR_STATES

LAST_RUNS = 10
GOOD_RUN = pd.Timedelta(minutes=30)
RUN_COLUMNS = ["run", "begin", "end", "frequency_khz", "antenna", "coil_set", "power_kw"]


@dataclass(frozen=True)
class Setting:
    """Median of ``runs`` readings, all of them within ``spread`` of it; ``last`` is the newest.

    ``is_before_tubes``: all are older than the last change of a tube of this transmitter.
    """

    median: float
    spread: float
    runs: int
    last: float
    is_before_tubes: bool = False


@dataclass(frozen=True)
class Between:
    """A setting interpolated between two waves of one coil set."""

    value: float
    low_khz: float
    high_khz: float


def good_runs(standing: pd.DataFrame) -> pd.DataFrame:
    """The runs that stood on the air for half an hour or more.

    Parameters
    ----------
    standing : DataFrame
        Operating points as ``logbook.points.intervals`` gives them, the last one open.

    Returns
    -------
    DataFrame
        RUN_COLUMNS in the order of time: ``begin`` and ``end`` of the run (NaT while it lasts),
        the rest as it stood when the run was first on the air.
    """
    frame = standing.assign(until=standing["observed_at"].shift(-1))
    begins = frame.groupby("run")["observed_at"].min()
    frame = frame[frame["run"].gt(0) & frame["state"].isin(ON_AIR_STATES)]
    lasting = (frame["until"] - frame["observed_at"]).groupby(frame["run"]).sum()
    is_open = frame["until"].isna().groupby(frame["run"]).any()
    is_good = is_open | (lasting >= GOOD_RUN)
    first = frame[frame["run"].isin(is_good[is_good].index)].groupby("run").first()
    ends = begins.shift(-1)
    runs = first.assign(begin=begins.reindex(first.index), end=ends.reindex(first.index))
    return runs.reset_index()[RUN_COLUMNS]


def first_settings(runs: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """The first number of each dial in each run: one row a run, one column a meter.

    ``readings`` has ``minute``, ``meter_id`` and ``value`` in the order of time.
    """
    numbers = readings[readings["value"].notna()]
    if runs.empty or numbers.empty:
        return pd.DataFrame(index=runs["run"])
    begins = minutes(runs["begin"])
    ends = np.where(runs["end"].isna(), np.iinfo(np.int64).max, minutes(runs["end"]))
    at = numbers["minute"].to_numpy()
    place = np.searchsorted(begins, at, side="right") - 1
    is_inside = (place >= 0) & (at < ends[place])
    inside = numbers[is_inside].assign(run=runs["run"].to_numpy()[place[is_inside]])
    table = inside.groupby(["run", "meter_id"])["value"].first().unstack()
    return table.reindex(runs["run"])


def minutes(instants: pd.Series) -> npt.NDArray[np.int64]:
    return instants.dt.tz_localize(None).to_numpy("datetime64[m]").astype(np.int64)


def best_known(
    runs: pd.DataFrame,
    settings: pd.DataFrame,
    *,
    frequency_khz: float,
    antenna: str,
    tubes_since: pd.Timestamp | None,
) -> dict[int, Setting]:
    """The setting of each dial on a wave and antenna, by meter, from the last good runs.

    Runs with the tubes that stand now count alone; where there are none, the last ones before.
    """
    is_same = runs["frequency_khz"].eq(frequency_khz) & runs["antenna"].eq(antenna)
    same = runs[is_same]
    found: dict[int, Setting] = {}
    for meter_id in settings.columns:
        values = pd.Series(settings[meter_id].to_numpy(), runs["begin"])[is_same.to_numpy()]
        values = values.dropna()
        with_tubes = values if tubes_since is None else values[values.index >= tubes_since]
        used = (with_tubes if len(with_tubes) else values).tail(LAST_RUNS)
        if len(used):
            found[int(meter_id)] = setting_of(used.tolist(), is_before=not len(with_tubes))
    return found if len(same) else {}


def setting_of(values: Sequence[float], *, is_before: bool = False) -> Setting:
    """Example
    -------
    >>> setting_of([488.0, 491.0, 490.0])
    Setting(median=490.0, spread=2.0, runs=3, last=490.0, is_before_tubes=False)
    """
    median = float(np.median(values))
    spread = float(np.max(np.abs(np.asarray(values) - median)))
    return Setting(median, spread, len(values), float(values[-1]), is_before)


def between(known: Mapping[float, float], frequency_khz: float) -> Between | None:
    """A tuning dial for a wave between two known ones of one coil set, None outside them.

    With the same coil the circuit's capacitance goes as 1/f squared, and the dial of a capacitor
    of straight-line capacitance with it: so the dial is linear in 1/f squared between the two.
    Source: resonance, f = 1 / (2 pi sqrt(L C)).

    Example
    -------
    >>> found = between({6105.0: 490.0, 7265.0: 294.0}, 6600.0)
    >>> round(found.value, 1), found.low_khz, found.high_khz
    (393.7, 6105.0, 7265.0)
    """
    lower = [khz for khz in known if khz < frequency_khz]
    higher = [khz for khz in known if khz > frequency_khz]
    if not lower or not higher:
        return None
    low, high = max(lower), min(higher)
    place = (frequency_khz**-2 - low**-2) / (high**-2 - low**-2)
    return Between(known[low] + place * (known[high] - known[low]), low, high)


def by_power(runs: pd.DataFrame, values: pd.Series, frequency_khz: float) -> dict[float, Setting]:
    """A dial's setting on a wave for each power at which it was read, on any antenna."""
    frame = runs[["frequency_khz", "power_kw"]].assign(value=values.to_numpy()).dropna()
    same = frame[frame["frequency_khz"].eq(frequency_khz)]
    return {
        float(power): setting_of(of_power["value"].tail(LAST_RUNS).tolist())
        for power, of_power in same.groupby("power_kw")
    }
