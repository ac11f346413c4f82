"""The history's curves as data for the browser, and as tables for those who read."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import orjson
import pandas as pd
from django.utils.safestring import SafeString

from health.boards.curves import Curve
from health.boards.history import History
from health.boards.history_marks import HistoryMark
from health.charts import script_safe
from health.frames import EDGES
from health.summaries import NO_WAVE
from health.words import air_words
from logbook.reading_words import number_text
from logbook.times import instant_of, minute_of

EXTRA_DIGITS = 2  # a median may lie between two readings


def history_payload(history: History) -> SafeString:
    """Curves, limits, marks and pairs as JSON that may stand inside a script element."""
    curves = [one for one in (history.curve, history.against) if one is not None]
    data = {
        "span": [history.curve.since, history.curve.until],
        "curves": [curve_data(one) for one in curves],
        "limits": limit_data(history.curve) if history.draws_limits else {},
        "marks": [mark_data(mark) for mark in history.marks],
        "kinds": {mark.kind: mark.kind_words for mark in history.marks},
        "pairs": pair_data(history),
        "words": {"off": air_words(NO_WAVE)},
    }
    return script_safe(orjson.dumps(data, option=orjson.OPT_SERIALIZE_NUMPY))


def curve_data(curve: Curve) -> dict[str, Any]:
    """One axis of minutes; of single readings the figures are one and the same."""
    points = curve.points
    figures = ["median"] if curve.grain is None else ["median", "low", "high"]
    return {
        "code": curve.meter.transmitter.code,
        "label": curve.meter.label,
        "unit": curve.meter.unit,
        "minutes": column(points["minute"]),
        "waves": column(points["frequency_khz"]),
        **{name: rounded(points[name], curve.meter.decimals) for name in figures},
    }


def column(values: pd.Series) -> np.ndarray:
    return np.ascontiguousarray(values.to_numpy())


def rounded(values: pd.Series, decimals: int) -> np.ndarray:
    return np.ascontiguousarray(values.to_numpy(float)).round(decimals + EXTRA_DIGITS)


def limit_data(curve: Curve) -> dict[str, np.ndarray]:
    """Each limit that there is, along the curve's minutes."""
    along = {edge: rounded(curve.points[edge], curve.meter.decimals) for edge in EDGES}
    return {edge: values for edge, values in along.items() if not np.isnan(values).all()}


def mark_data(mark: HistoryMark) -> list[Any]:
    return [minute_of(mark.at), mark.kind, mark.words, mark.href]


def pair_data(history: History) -> dict[str, Any] | None:
    pairs = history.pairs
    if pairs is None or history.against is None:
        return None
    return {
        "minutes": pairs.minutes,
        "ours": np.round(pairs.ours, history.curve.meter.decimals + EXTRA_DIGITS),
        "theirs": np.round(pairs.theirs, history.against.meter.decimals + EXTRA_DIGITS),
    }


@dataclass(frozen=True)
class HistoryRow:
    """One line of the table: a reading with its entry's number, or a bucket's figures."""

    at: Any
    wave: str
    low: str
    median: str
    high: str
    n: int
    off_scale: int
    no: int | None


def history_rows(curve: Curve) -> Iterator[HistoryRow]:
    """The curve's points in the order of time; '' where there is no number."""
    decimals = curve.meter.decimals
    for row in curve.points.to_dict("records"):
        low, median, high = (
            "" if np.isnan(row[name]) else number_text(round(row[name], decimals + 2), decimals)
            for name in ("low", "median", "high")
        )
        yield HistoryRow(
            at=instant_of(row["minute"]),
            wave=air_words(row["frequency_khz"]),
            low=low,
            median=f"{row['bound']}{row['value']:.12g}" if row.get("bound") else median,
            high=high,
            n=row["n"],
            off_scale=row["off_scale"],
            no=row.get("no"),
        )
