"""Summaries of days, weeks and months: stored once these have ended, as known when judged.

What is still running is read from its readings. A reading or a change of state that comes late
has everything from its instant on summarised again, as it has it judged again.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from django.db.models import Min, OuterRef, Subquery

from health.models import Judging, Summary
from health.statistics.summaries import FIGURES, KEYS, Grain, Minutes, bucket_begin, summarise
from logbook.frames import number_table, standing_points
from logbook.inserts import insert
from logbook.models import Reading
from logbook.points import points_at
from logbook.times import instant_of
from station.models import Meter, Transmitter
from station.states import ON_AIR_STATES

CHUNK_MIN = 366 * 24 * 60
NO_WAVE = 0.0
COLUMNS = ["station_id", "meter_id", "grain", "bucket", "frequency_khz", *FIGURES]


def summarise_from(
    judging: Judging, transmitter: Transmitter, meter_ids: Sequence[int], since: int, last: int
) -> None:
    """Replace the summaries of a transmitter's meters from the minute ``since`` on.

    The days, weeks and months before that of ``last``, the newest reading, have ended.
    """
    done = judging.summarised_until or 0
    begin = min(since, done, last) or first_minute(meter_ids)
    if begin < done:
        forget(transmitter, meter_ids, begin)
    if begin < max(done, bucket_begin(last, Grain.DAY)):
        for chunk in pairwise([*range(begin, last, CHUNK_MIN), last]):
            # All of them first: PostgreSQL answers no query while a COPY is under way.
            rows = list(chunk_rows(transmitter, meter_ids, *chunk))
            insert(Summary, COLUMNS, rows)
        judging.summarised_until = int(bucket_begin(last, Grain.DAY))
        judging.save(update_fields=["summarised_until"])


def last_minute(meter_ids: Sequence[int]) -> int:
    """The minute of the last reading that stands, 0 where there is none."""
    newest = Reading.objects.current().filter(meter=OuterRef("pk")).order_by("-minute")
    meters = Meter.objects.filter(pk__in=meter_ids).order_by()
    lasts = meters.annotate(last=Subquery(newest.values("minute")[:1])).values_list("last")
    return max((minute for (minute,) in lasts if minute is not None), default=0)


def first_minute(meter_ids: Sequence[int]) -> int:
    read = Reading.objects.current().filter(meter__in=meter_ids)
    return read.aggregate(first=Min("minute"))["first"] or 0


def forget(transmitter: Transmitter, meter_ids: Sequence[int], since: int) -> None:
    own = Summary.objects.filter(station=transmitter.station_id, meter__in=meter_ids)
    for grain in Grain:
        own.filter(grain=grain, bucket__gte=int(bucket_begin(since, grain))).delete()


def chunk_rows(
    transmitter: Transmitter, meter_ids: Sequence[int], since: int, until: int
) -> Iterator[tuple[Any, ...]]:
    """Rows of the buckets that hold ``since`` or begin after it and end by ``until``."""
    begins = {grain: int(bucket_begin(since, grain)) for grain in Grain}
    readings = readings_with_waves(transmitter, meter_ids, min(begins.values()), until)
    for grain in Grain:
        end = int(bucket_begin(until, grain))
        is_in = (readings["minute"] >= begins[grain]) & (readings["minute"] < end)
        own = (transmitter.station_id,)
        for meter_id, bucket, *rest in summary_rows(summarise(readings[is_in], grain)):
            yield *own, meter_id, grain.value, bucket, *rest


def summary_rows(summaries: pd.DataFrame) -> Iterator[tuple[Any, ...]]:
    """Plain numbers in the order of KEYS and FIGURES, None for NaN."""
    columns = summaries[[*KEYS, *FIGURES]].astype(object)
    yield from columns.where(columns.notna(), None).itertuples(index=False, name=None)


def readings_with_waves(
    transmitter: Transmitter, meter_ids: Sequence[int], since: int, until: int
) -> pd.DataFrame:
    """The readings that ``summarise`` takes, of since <= minute < until, by minute."""
    numbers, is_off_scale = number_table(meter_ids, since, until)
    frame = pd.DataFrame(numbers, columns=["meter_id", "minute", "value"])
    frame = frame.astype({"meter_id": np.int64, "minute": np.int64})
    frame["is_off_scale"] = is_off_scale
    standing = standing_points(transmitter, instant_of(since), instant_of(until))
    frame["frequency_khz"] = waves_at(standing, frame["minute"].to_numpy())
    return frame.sort_values(["minute", "meter_id"], ignore_index=True)


def waves_at(standing: pd.DataFrame, minutes: Minutes) -> npt.NDArray[np.float64]:
    """The wave on the air at each minute, NO_WAVE off the air or where it is not known."""
    points = points_at(standing, minutes)
    is_on_air = points["state"].isin(ON_AIR_STATES)
    return points["frequency_khz"].where(is_on_air, NO_WAVE).fillna(NO_WAVE).to_numpy(float)
