"""The seam from the log's tables to DataFrames: fixed columns, UTC, NaN for missing."""

from collections.abc import Sequence

import pandas as pd
from django.db.models import F

from logbook.models import Entry, Kind, Reading
from logbook.points import POINT_COLUMNS, intervals
from station.models import Transmitter

CHANGE_COLUMNS = ["observed_at", "no", *POINT_COLUMNS, "is_retune"]
READING_COLUMNS = ["minute", "no", "meter_id", "value", "code", "bound", "mark", "modulation"]


def change_frame(transmitter: Transmitter) -> pd.DataFrame:
    """The current changes of state of one transmitter, in any order."""
    rows = (
        Entry.objects.current()
        .filter(transmitter=transmitter, kind=Kind.STATE)
        .values_list(
            "observed_at",
            "no",
            "statechange__state",
            "statechange__frequency_khz",
            "statechange__antenna__code",
            "statechange__coil_set__code",
            "statechange__power_kw",
            "statechange__set_by",
            "statechange__is_retune",
        )
    )
    frame = pd.DataFrame(list(rows), columns=CHANGE_COLUMNS)
    frame["observed_at"] = pd.to_datetime(frame["observed_at"], utc=True)
    words = ["state", "antenna", "coil_set", "set_by"]
    frame[words] = frame[words].astype(object).where(frame[words].fillna("") != "", None)
    numbers = ["frequency_khz", "power_kw"]
    frame[numbers] = frame[numbers].astype(float)
    return frame


def standing_points(transmitter: Transmitter) -> pd.DataFrame:
    """The operating points of one transmitter, from each change to the next."""
    return intervals(change_frame(transmitter))


def reading_frame(
    transmitter: Transmitter, meter_ids: Sequence[int], since: int, until: int
) -> pd.DataFrame:
    """Current readings with since <= minute < until, ordered by minute, entry, meter."""
    rows = (
        Reading.objects.current()
        .filter(meter__in=meter_ids, minute__gte=since, minute__lt=until)
        .order_by("minute", "round__entry__no", "meter_id")
        .annotate(no=F("round__entry__no"), modulation=F("round__modulation"))
        .values_list(*READING_COLUMNS)
    )
    frame = pd.DataFrame(list(rows.iterator(chunk_size=20000)), columns=READING_COLUMNS)
    return frame.astype({"minute": "int64", "no": "int64", "meter_id": "int64", "value": float})
