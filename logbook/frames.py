"""The seam from the log's tables to DataFrames: fixed columns, UTC, NaN for missing."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from logbook.models import Entry, Kind, Reading, StateChange
from logbook.models.state import STATED as STATED_BY_COLUMN
from logbook.points import POINT_COLUMNS, intervals
from logbook.seconds import SecondsOf
from station.models import Transmitter

CHANGE_COLUMNS = ["observed_at", "no", *POINT_COLUMNS, "is_retune"]
STATED = {
    "state": "statechange__state",
    "frequency_khz": "statechange__frequency_khz",
    "antenna": "statechange__antenna__code",
    "coil_set": "statechange__coil_set__code",
    "power_kw": "statechange__power_kw",
    "set_by": "statechange__set_by",
}
# Past every minute that a log knows: with it one number tells meter and minute.
FAR_MINUTE = 2.0**31
READING_COLUMNS = ["minute", "no", "meter_id", "value", "code", "bound", "mark", "modulation"]


def change_frame(
    transmitter: Transmitter,
    since: datetime | None = None,
    until: datetime | None = None,
    *,
    without: Entry | None = None,
) -> pd.DataFrame:
    """The current changes of state of one transmitter with since <= observed_at < until.

    With ``since`` they are preceded by what stood then: the last statement of each column.
    ``without`` leaves out one entry, as if it had not been written.
    """
    wanted = state_entries(transmitter, without)
    rows = []
    if since is not None:
        rows = list(statements_before(transmitter, since, without))
        wanted = wanted.filter(observed_at__gte=since)
    if until is not None:
        wanted = wanted.filter(observed_at__lt=until)
    rows += wanted.values_list("observed_at", "no", *STATED.values(), "statechange__is_retune")
    return tidy_changes(rows)


def tidy_changes(rows: Sequence[tuple[Any, ...]]) -> pd.DataFrame:
    """Rows in CHANGE_COLUMNS as a frame, each entry once, in which 'not stated' is missing."""
    by_no = {row[1]: row for row in reversed(rows)}
    each = zip(*reversed(by_no.values()), strict=True) if rows else [[] for _name in CHANGE_COLUMNS]
    columns: dict[str, Any] = dict(zip(CHANGE_COLUMNS, each, strict=True))
    columns["observed_at"] = pd.to_datetime(list(columns["observed_at"]), utc=True)
    for name in ("frequency_khz", "power_kw"):
        columns[name] = np.array(columns[name], dtype=np.float64)
    for name in ("state", "antenna", "coil_set", "set_by"):
        columns[name] = np.array([word or None for word in columns[name]], dtype=object)
    return pd.DataFrame({**columns, "no": np.array(columns["no"], dtype=np.int64)})


def state_entries(transmitter: Transmitter, without: Entry | None = None) -> QuerySet[Entry]:
    current = Entry.objects.current().filter(transmitter=transmitter, kind=Kind.STATE)
    return current.exclude(pk=without.pk) if without else current


def last_stated(of: Any, since: datetime, without: Entry | None = None) -> dict[str, Subquery]:
    """The keys of the current changes that last stated each column of a transmitter, by column."""
    before = StateChange.objects.filter(
        transmitter=of, observed_at__lt=since, entry__ended_by__isnull=True
    )
    if without:
        before = before.exclude(pk=without.pk)
    newest = before.order_by("-observed_at", "-entry__no")
    return {
        f"last_{column}": Subquery(newest.filter(is_stated).values("pk")[:1])
        for column, is_stated in STATED_BY_COLUMN.items()
    }


def statements_before(
    transmitter: Transmitter, since: datetime, without: Entry | None
) -> QuerySet[Entry]:
    """Of the changes of one transmitter, those that last stated each column before ``since``."""
    last = last_stated(transmitter.pk, since, without)
    # By key alone: with the other conditions a database walks through all that came before.
    return Entry.objects.filter(pk__in=list(last.values())).values_list(
        "observed_at", "no", *STATED.values(), "statechange__is_retune"
    )


def standing_points_of_all(
    transmitters: Sequence[Transmitter], since: datetime
) -> dict[int, pd.DataFrame]:
    """The operating points of many transmitters from ``since`` on, in two queries."""
    last = last_stated(OuterRef("pk"), since)
    ids = [transmitter.pk for transmitter in transmitters]
    stood = Transmitter.objects.filter(pk__in=ids).annotate(**last).values_list(*last)
    stood_ids = {entry_id for row in stood for entry_id in row if entry_id is not None}
    is_since = Q(transmitter__in=ids, kind=Kind.STATE, observed_at__gte=since)
    wanted = Entry.objects.current().filter(Q(pk__in=stood_ids) | is_since)
    rows: dict[int, list[tuple[Any, ...]]] = {key: [] for key in ids}
    columns = ("observed_at", "no", *STATED.values(), "statechange__is_retune")
    for transmitter_id, *row in wanted.values_list("transmitter_id", *columns):
        rows[transmitter_id].append(tuple(row))
    return {key: intervals(tidy_changes(of_one)) for key, of_one in rows.items()}


def standing_points(
    transmitter: Transmitter, since: datetime | None = None, until: datetime | None = None
) -> pd.DataFrame:
    """The operating points of one transmitter, from each change to the next."""
    return intervals(change_frame(transmitter, since, until))


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


def number_table(
    meter_ids: Sequence[int], since: int, until: int
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """Current readings of since <= minute < until for sums over many: columns and indexes few.

    Rows of meter, minute and value in any order, NaN where there is no number; and which of them
    are off scale, whose number is a bound and not what was read.
    """
    read = Reading.objects.current().filter(
        meter__in=meter_ids, minute__gte=since, minute__lt=until
    )
    numbers = np.array(read.values_list("meter_id", "minute", "value"), float).reshape(-1, 3)
    beyond = np.array(read.filter(bound__gt="").values_list("meter_id", "minute"), float).reshape(
        -1, 2
    )
    keys = [table[:, 0] * FAR_MINUTE + table[:, 1] for table in (numbers, beyond)]
    return numbers, np.isin(*keys)


def stated_states(
    transmitter_ids: Iterable[int], since: datetime, until: datetime
) -> dict[int, tuple[npt.NDArray[np.float64], npt.NDArray[np.str_]]]:
    """The states of transmitters in order: instants in hours since 1970 UTC, and what was stated.

    What stood at ``since`` comes first where it is known.
    """
    ids = list(transmitter_ids)
    newest = last_stated(OuterRef("pk"), since)["last_state"]
    stood = Transmitter.objects.filter(pk__in=ids).annotate(last=newest).values("last")
    stated = StateChange.objects.filter(STATED_BY_COLUMN["state"], entry__ended_by__isnull=True)
    in_span = stated.filter(transmitter__in=ids, observed_at__gte=since, observed_at__lt=until)
    rows: dict[int, list[tuple[float, str]]] = {key: [] for key in ids}
    for wanted in (stated.filter(pk__in=stood), in_span.order_by("observed_at", "entry__no")):
        columns = wanted.values_list("transmitter_id", SecondsOf("observed_at"), "state")
        for key, seconds, state in columns.iterator(chunk_size=20000):
            rows[key].append((float(seconds) / 3600, state))
    return {
        key: (np.array([at for at, _ in of_one]), np.array([state for _, state in of_one], str))
        for key, of_one in rows.items()
    }
