"""The history of one meter, and two of them side by side."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd

from health.boards.curves import Curve, curve_of, grain_of
from health.boards.history_marks import HistoryMark, marks_of
from health.drift import drifts_of_meter
from health.models import Drift
from health.pending import pending_of_all
from logbook.times import instant_of, minute_of
from station.limits import LimitBook
from station.models import Meter

HOUR_MIN = 60
FEWEST_PAIRS = 3


@dataclass(frozen=True)
class Pairs:
    """Two meters where both were read: arrays of one length in each meter's unit.

    ``difference`` (median of ours less theirs) only in one unit; ``correlation`` of the ranks.
    Each is None with fewer than FEWEST_PAIRS pairs, or where it is not defined.
    """

    minutes: npt.NDArray[np.int64]
    ours: npt.NDArray[np.float64]
    theirs: npt.NDArray[np.float64]
    difference: float | None
    ratio: float | None
    correlation: float | None


@dataclass(frozen=True)
class History:
    """``wave`` None: all of them. ``pending``: entries not judged yet, so flags may be missing.
    ``drifts``: of the meter's channels, as of the end of the span."""

    curve: Curve
    against: Curve | None
    pairs: Pairs | None
    wave: float | None
    marks: tuple[HistoryMark, ...]
    pending: int
    drifts: tuple[Drift, ...]

    @property
    def since(self) -> datetime:
        return instant_of(self.curve.since)

    @property
    def until(self) -> datetime:
        return instant_of(self.curve.until)

    @property
    def draws_limits(self) -> bool:
        """One set of limits can be drawn: of single readings each its own, else of one wave."""
        return self.curve.grain is None or self.wave is not None


def build_history(
    meter: Meter,
    span: tuple[datetime, datetime],
    wave: float | None = None,
    against: Meter | None = None,
) -> History:
    """``meter`` and ``against`` come with their transmitters; ``wave`` in kHz, 0 off the air."""
    since, until = minute_of(span[0]), minute_of(span[1])
    grain = grain_of(instant_of(until) - instant_of(since))
    book = LimitBook(meter.transmitter)
    curve = on_wave(curve_of(book, meter, since, until, grain), wave)
    other = None
    if against is not None:
        is_same = against.transmitter_id == meter.transmitter_id
        other_book = book if is_same else LimitBook(against.transmitter)
        other = on_wave(curve_of(other_book, against, since, until, grain), wave)
    return History(
        curve=curve,
        against=other,
        pairs=pairs_of(curve, other) if other else None,
        wave=wave,
        marks=tuple(marks_of(meter, curve.since, curve.until)),
        pending=pending_of_all([meter.transmitter]).get(meter.transmitter_id, 0),
        drifts=tuple(drifts_of_meter(book, meter, instant_of(curve.until))),
    )


def on_wave(curve: Curve, wave: float | None) -> Curve:
    if wave is None:
        return curve
    points = curve.points[curve.points["frequency_khz"] == wave].reset_index(drop=True)
    return Curve(curve.meter, curve.grain, curve.since, curve.until, points)


def pairs_of(ours: Curve, theirs: Curve) -> Pairs:
    """Readings of one hour, or the medians of one bucket on one wave, set beside each other.

    Two transmitters are never on one wave: their medians are of whole buckets.
    """
    is_one = ours.meter.transmitter_id == theirs.meter.transmitter_id
    both = paired(ours, is_one).join(paired(theirs, is_one), how="inner", suffixes=("_ours", ""))
    minutes = both.index.get_level_values("minute").to_numpy()
    mine, others = both["median_ours"].to_numpy(float), both["median"].to_numpy(float)
    return Pairs(minutes, mine, others, *figures(mine, others, is_one_unit(ours, theirs)))


def paired(curve: Curve, by_wave: bool) -> pd.DataFrame:
    """The curve's medians by hour or bucket, and by wave where that is asked."""
    known = curve.points.loc[curve.points["n"] > 0, ["minute", "frequency_khz", "median"]]
    if curve.grain is None:
        known = known.assign(minute=known["minute"] // HOUR_MIN * HOUR_MIN)
    keys = ["minute", "frequency_khz"] if by_wave else ["minute"]
    return known.groupby(keys)[["median"]].median()


def is_one_unit(ours: Curve, theirs: Curve) -> bool:
    return ours.meter.unit == theirs.meter.unit


def figures(
    ours: npt.NDArray[np.float64], theirs: npt.NDArray[np.float64], is_one_unit: bool
) -> tuple[float | None, float | None, float | None]:
    """Median difference, median ratio and rank correlation."""
    if len(ours) < FEWEST_PAIRS:
        return None, None, None
    has_ratio = bool((theirs != 0).all())
    ranks = pd.DataFrame({"ours": ours, "theirs": theirs}).rank()
    moves = bool((ranks.nunique() > 1).all())
    return (
        float(np.median(ours - theirs)) if is_one_unit else None,
        float(np.median(ours / theirs)) if has_ratio else None,
        float(ranks["ours"].corr(ranks["theirs"])) if moves else None,
    )
