"""What the hour counters of a station read: every week's first reading, and whole weeks in full
where the first ones leave a doubt.

Ten years of a counter are 87 600 readings, of which some 520 say as much: where two of them fit the
state log, nothing can have happened between that hours hang on.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

import numpy as np
import numpy.typing as npt
from django.db import connection
from django.db.models import Q

from logbook.counters import Running
from logbook.models import Reading
from logbook.times import minute_of

WEEK = 7 * 24 * 60
# How far a counter and the state log may part in a week before all its readings are looked at.
AGREE_WITHIN_H = 1.0
# With more stretches than this it is quicker to read everything.
MOST_STRETCHES = 100

Series = tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]
Row = tuple[int, int, float]


def counter_readings(
    running: Mapping[int, Running], span: tuple[datetime, datetime], moments: Iterable[datetime]
) -> dict[int, Series]:
    """The numbers read on each meter in order: instants in hours since 1970 UTC, and values.

    ``running`` says by meter when the thing that it counts ran; in the weeks of ``moments`` no
    reading is left out.
    """
    since, until = minute_of(span[0]), minute_of(span[1])
    firsts = first_of_weeks(list(running), since, until)
    exact = {minute_of(at) // WEEK for at in moments}
    stretches: dict[tuple[int, int], list[int]] = defaultdict(list)
    for key, series in series_of(firsts, running).items():
        for stretch in merged(exact | doubtful_weeks(*series, running[key])):
            stretches[stretch].append(key)
    return series_of(firsts + rows_within(stretches, list(running), since, until), running)


# A seek for each week of each meter: grouping by the week would read every row. The rows are joined
# by key alone: given meter and minute as well, SQLite may take the range of all the weeks instead,
# or read every row into a filter first.
FIRSTS = """
    WITH RECURSIVE week(begins, ends) AS (
        SELECT %s, %s UNION ALL SELECT ends, ends + %s FROM week WHERE ends < %s
    ), first(reading_id) AS (
        SELECT (
            SELECT id FROM logbook_reading
            WHERE meter_id = meter.id AND ended_by_id IS NULL AND value IS NOT NULL
            AND minute >= begins AND minute < ends
            ORDER BY minute, value LIMIT 1
        ) FROM week CROSS JOIN station_meter meter WHERE meter.id IN ({meters})
    )
    SELECT meter_id, minute, value FROM first JOIN logbook_reading ON id = reading_id
"""


def first_of_weeks(meter_ids: Sequence[int], since: int, until: int) -> list[Row]:
    if not meter_ids:
        return []
    sql = FIRSTS.format(meters=", ".join(["%s"] * len(meter_ids)))
    ends = (since // WEEK + 1) * WEEK
    with connection.cursor() as cursor:
        cursor.execute(sql, [since, ends, WEEK, until, *meter_ids])
        return [row for row in cursor.fetchall() if row[1] < until]


def series_of(rows: Sequence[Row], meter_ids: Iterable[int]) -> dict[int, Series]:
    """The rows by meter in order of time, each once."""
    table = np.unique(np.array(rows, dtype=float).reshape(-1, 3), axis=0)
    of_meter = {key: table[table[:, 0] == key] for key in meter_ids}
    return {key: (rows[:, 1] / 60.0, rows[:, 2]) for key, rows in of_meter.items()}


def doubtful_weeks(
    at: npt.NDArray[np.float64], value: npt.NDArray[np.float64], running: Running
) -> set[int]:
    """The weeks after whose first reading the counter and the state log part, and the last."""
    if not at.size:
        return set()
    apart = np.abs(np.diff(value) - np.diff(running.hours(at))) > AGREE_WITHIN_H
    weeks = np.round(at * 60).astype(int) // WEEK
    return set(weeks[np.append(apart, True)].tolist())


def merged(weeks: Iterable[int]) -> Iterator[tuple[int, int]]:
    """The minutes of weeks, neighbours in one stretch: first, and first after the last."""
    ordered = np.array(sorted(weeks))
    for together in np.split(ordered, np.flatnonzero(np.diff(ordered) > 1) + 1):
        if together.size:
            yield int(together[0]) * WEEK, (int(together[-1]) + 1) * WEEK


def rows_within(
    stretches: Mapping[tuple[int, int], Sequence[int]],
    meter_ids: Sequence[int],
    since: int,
    until: int,
) -> list[Row]:
    """Every number of each stretch's meters: first minute, and first minute after."""
    wanted = Q()
    for (begin, end), meters in stretches.items():
        wanted |= Q(meter__in=meters, minute__gte=max(begin, since), minute__lt=min(end, until))
    if len(stretches) > MOST_STRETCHES:
        wanted = Q(meter__in=meter_ids, minute__gte=since, minute__lt=until)
    numbers = Reading.objects.current().filter(wanted, value__isnull=False)
    return list(numbers.values_list("meter_id", "minute", "value"))
