"""Readings of a day, a week or a month in four figures, for views of years. Pure."""

from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

DAY_MIN = 24 * 60
WEEK_MIN = 7 * DAY_MIN
# 1970-01-01 was a Thursday: the Monday before lies three days earlier.
MONDAY_BEFORE_MIN = 3 * DAY_MIN
KEYS = ["meter_id", "bucket", "frequency_khz"]
FIGURES = ["n", "low", "median", "high", "off_scale"]

Minutes = npt.NDArray[np.int64]


class Grain(StrEnum):
    DAY = "day"
    WEEK = "week"
    MONTH = "month"


def bucket_begin(minutes: npt.ArrayLike, grain: Grain) -> Minutes:
    """The first minute of the UTC day, of the week from Monday, or of the month of each minute.

    Parameters
    ----------
    minutes : array of whole minutes since 1970 UTC, any shape.

    Example
    -------
    >>> bucket_begin([1440 * 40 + 5], Grain.MONTH).tolist()  # 1970-02-10 00:05
    [44640]
    """
    whole = np.asarray(minutes, dtype=np.int64)
    if grain == Grain.DAY:
        return whole - whole % DAY_MIN
    if grain == Grain.WEEK:
        return whole - (whole + MONDAY_BEFORE_MIN) % WEEK_MIN
    months = whole.astype("datetime64[m]").astype("datetime64[M]")
    return months.astype("datetime64[m]").astype(np.int64)


def bucket_end(begin: int, grain: Grain) -> int:
    """The first minute after the bucket that begins at ``begin``."""
    longest = {Grain.DAY: DAY_MIN, Grain.WEEK: WEEK_MIN, Grain.MONTH: 31 * DAY_MIN}[grain]
    if grain == Grain.MONTH:
        return int(bucket_begin(begin + longest, grain))
    return begin + longest


def summarise(readings: pd.DataFrame, grain: Grain) -> pd.DataFrame:
    """What each meter read in each bucket on each wave.

    Parameters
    ----------
    readings : DataFrame
        ``meter_id``, ``minute`` (whole minutes since 1970 UTC), ``frequency_khz`` (0: off air or
        wave not known), ``value`` (NaN where there is no number), ``is_off_scale`` (bool; such a
        number is a bound and is only counted).

    Returns
    -------
    DataFrame
        KEYS (``bucket``: first minute) and FIGURES: ``n`` numbers on the scale, their lowest,
        median and highest (NaN when n is 0), and ``off_scale``, how many were beyond it.

    Example
    -------
    >>> readings = pd.DataFrame({"meter_id": 1, "minute": [0, 60, 120], "frequency_khz": 6105.0,
    ...     "value": [12.0, 12.6, 20.0], "is_off_scale": [False, False, True]})
    >>> summarise(readings, Grain.DAY)[FIGURES].values.tolist()
    [[2.0, 12.0, 12.3, 12.6, 1.0]]
    """
    on_scale = readings["value"].where(~readings["is_off_scale"])
    buckets = bucket_begin(readings["minute"].to_numpy(), grain)
    groups = readings.assign(value=on_scale, bucket=buckets).groupby(KEYS)
    figures = groups["value"].agg(n="count", low="min", median="median", high="max")
    figures["off_scale"] = groups["is_off_scale"].sum()
    said = figures[(figures["n"] > 0) | (figures["off_scale"] > 0)]
    return said.reset_index()
