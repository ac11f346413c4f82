"""One meter over a span as a frame: single readings, or days, weeks or months of each wave."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import pandas as pd

from health.frames import EDGES, edges, with_bands
from health.models import Judging, Summary
from health.statistics.summaries import FIGURES, Grain, bucket_begin, bucket_end, summarise
from health.summaries import NO_WAVE, readings_with_waves, waves_at
from logbook.frames import reading_frame, standing_points
from logbook.times import instant_of
from station.limits import LimitBook, Place
from station.models import Meter
from station.states import Modulation, PowerSetBy, State

# Up to how long a span each grain is drawn: some thousand points at most.
LONGEST = (
    (timedelta(days=42), None),
    (timedelta(days=400), Grain.DAY),
    (timedelta(days=3700), Grain.WEEK),
)
BUCKET_COLUMNS = ["minute", "frequency_khz", *FIGURES]


@dataclass(frozen=True)
class Curve:
    """One meter by ``minute`` (of a bucket its first), with ``frequency_khz`` (NO_WAVE off the
    air), FIGURES and EDGES. Of a single reading low, median and high are equal; it has its
    entry's ``no`` and its own columns besides. ``since`` and ``until``: whole buckets.
    """

    meter: Meter
    grain: Grain | None
    since: int
    until: int
    points: pd.DataFrame


def grain_of(length: timedelta) -> Grain | None:
    """How fine a span is drawn; None is every reading."""
    return next((grain for longest, grain in LONGEST if length <= longest), Grain.MONTH)


def curve_of(book: LimitBook, meter: Meter, since: int, until: int, grain: Grain | None) -> Curve:
    """A meter of ``book`` over since <= minute < until."""
    if grain is None:
        return Curve(meter, None, since, until, single_readings(book, meter, since, until))
    begin = int(bucket_begin(since, grain))
    end = bucket_end(int(bucket_begin(until - 1, grain)), grain)
    return Curve(meter, grain, begin, end, buckets(book, meter, begin, end, grain))


def single_readings(book: LimitBook, meter: Meter, since: int, until: int) -> pd.DataFrame:
    readings = reading_frame(book.transmitter, [meter.pk], since, until)
    standing = standing_points(book.transmitter, instant_of(since), instant_of(until))
    frame = with_bands(readings, standing, book)
    is_off_scale = frame["bound"] != ""
    number = frame["value"].where(~is_off_scale)
    return frame.assign(
        frequency_khz=waves_at(standing, frame["minute"].to_numpy()),
        n=number.notna().astype(int),
        low=number,
        median=number,
        high=number,
        off_scale=is_off_scale.astype(int),
    )


def buckets(book: LimitBook, meter: Meter, begin: int, end: int, grain: Grain) -> pd.DataFrame:
    """What is stored of the buckets that have ended, and what still runs from its readings."""
    done = Judging.objects.filter(transmitter=book.transmitter).values_list("summarised_until")
    ended = int(bucket_begin(next((until for (until,) in done if until), 0), grain))
    running = max(begin, min(ended, end))
    frame = stored(meter, begin, running, grain)
    if running < end:
        readings = readings_with_waves(book.transmitter, [meter.pk], running, end)
        fresh = summarise(readings, grain).rename(columns={"bucket": "minute"})
        frame = pd.concat([frame, fresh[BUCKET_COLUMNS]]) if len(frame) else fresh[BUCKET_COLUMNS]
    frame = frame.sort_values(["minute", "frequency_khz"], ignore_index=True)
    return pd.concat([frame, full_power_limits(book, meter, frame)], axis=1)


def stored(meter: Meter, begin: int, end: int, grain: Grain) -> pd.DataFrame:
    rows = Summary.objects.filter(
        station=meter.station_id, meter=meter, grain=grain, bucket__gte=begin, bucket__lt=end
    ).values_list("bucket", "frequency_khz", *FIGURES)
    table = np.array(rows, dtype=float).reshape(-1, len(BUCKET_COLUMNS))
    whole = {"minute": np.int64, "n": np.int64, "off_scale": np.int64}
    return pd.DataFrame(table, columns=BUCKET_COLUMNS).astype(whole)


def full_power_limits(book: LimitBook, meter: Meter, frame: pd.DataFrame) -> pd.DataFrame:
    """The limits of each bucket's wave at full power, as they stood when it began.

    Looked up once a wave and version: years of six waves are thousands of buckets.
    """
    minutes = frame["minute"].to_numpy()
    changed = np.array([at.timestamp() / 60 for at in book.epochs])
    versions = np.searchsorted(changed, minutes, side="right")
    known: dict[tuple[float, int], tuple[float, ...]] = {}
    rows = []
    for wave, version, minute in zip(frame["frequency_khz"], versions, minutes, strict=True):
        key = wave, int(version)
        if key not in known:
            band = book.band(meter, full_power(book, wave), instant_of(int(minute)))
            known[key] = edges(band)
        rows.append(known[key])
    return pd.DataFrame(rows, columns=EDGES, dtype=float)


def full_power(book: LimitBook, wave: float) -> Place:
    """On the air at full power with programme; with no wave nothing is known of the state."""
    if wave == NO_WAVE:
        return Place(State.OFF, None, None, "", Modulation.ON)
    power = book.transmitter.full_power_kw
    return Place(State.ON_AIR, wave, power, PowerSetBy.TAP, Modulation.ON)
