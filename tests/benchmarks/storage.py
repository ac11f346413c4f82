"""Reading and saving against the raw driver: ``python -m tests.benchmarks.storage``.

Rows: twelve transmitters with 24 meters, ten years of hours times the scale. On PostgreSQL:
``python -m tests.postgres python -m tests.benchmarks.storage``.
"""

import sys
import time
from datetime import timedelta
from typing import Any

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import numpy as np  # noqa: E402
import orjson  # noqa: E402
from django.db import connection  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from logbook import port  # noqa: E402
from logbook.earlier_rounds import earlier_readings  # noqa: E402
from logbook.models import Reading  # noqa: E402
from logbook.reading_text import TypedReading  # noqa: E402
from logbook.services.rounds import RoundDraft, record_round  # noqa: E402
from logbook.times import minute_of  # noqa: E402
from station.limit_rows import INSTRUMENTS, LIMITS, NORMALS  # noqa: E402
from tests.benchmarks import plant as benchmark_plant  # noqa: E402
from tests.benchmarks.measure import (  # noqa: E402
    Figure,
    compiled,
    fetch,
    options_of,
    own_database,
    pairs,
    plan,
    ratio_figures,
    report,
)

WEEK_HOURS = 168


def main() -> int:
    hours = round(
        benchmark_plant.HOURS_IN_TEN_YEARS * options_of(__doc__, scale=0.1).parse_args().scale
    )
    with own_database():
        return measure(hours)


def measure(hours: int) -> int:
    plant = benchmark_plant.build()
    before = used_bytes()
    started = time.perf_counter()
    rounds = benchmark_plant.write(plant, 0, hours)
    seconds = time.perf_counter() - started
    settle()
    values = rounds * benchmark_plant.METERS
    print(f"{rounds} rounds, {values} values written in {seconds:.0f} s", flush=True)
    figures = [
        *week_read(plant, hours),
        *week_plan(plant, hours),
        *round_page(plant, hours),
        *save(plant, hours),
        size(values, before),
    ]
    return report(figures)


def settle() -> None:
    """What the database does by itself in service, done now: statistics and visibility."""
    connection.cursor().execute("VACUUM ANALYZE" if is_postgres() else "ANALYZE")


def is_postgres() -> bool:
    return connection.vendor == "postgresql"


def last_week(plant: benchmark_plant.Plant, hours: int) -> tuple[list[int], int, int]:
    """Meter ids of the first transmitter, first and last minute of the newest week."""
    ids = [meter.pk for meter in plant.meters[plant.transmitters[0].pk]]
    until = minute_of(benchmark_plant.START + timedelta(hours=hours))
    return ids, until - WEEK_HOURS * 60, until


def week_rows(plant: benchmark_plant.Plant, hours: int) -> Any:
    ids, since, until = last_week(plant, hours)
    rows = Reading.objects.current().filter(meter__in=ids, minute__gte=since, minute__lt=until)
    return rows.values_list("meter_id", "minute", "value")


def payload(rows: list[tuple], ids: list[int], since: int) -> bytes:
    """A week as one shared axis and one list a meter; NaN, a hole, becomes null."""
    grid = np.full((len(ids), WEEK_HOURS), np.nan)
    table = np.array(rows, dtype=float)
    row = np.searchsorted(ids, table[:, 0])
    grid[row, ((table[:, 1] - since) // 60).astype(int)] = table[:, 2]
    axis = np.arange(since, since + WEEK_HOURS * 60, 60)
    return orjson.dumps({"minutes": axis, "values": grid}, option=orjson.OPT_SERIALIZE_NUMPY)


def week_read(plant: benchmark_plant.Plant, hours: int) -> list[Figure]:
    """P1's read path: rows, grid and JSON through the ORM over raw SQL and JSON of the rows."""
    ids, since, _until = last_week(plant, hours)
    sql, parameters = compiled(week_rows(plant, hours))
    times = pairs(
        lambda: orjson.dumps(fetch(sql, parameters)),
        lambda: payload(list(week_rows(plant, hours)), ids, since),
    )
    return ratio_figures("P1 week of one transmitter / raw SQL and JSON", times, 2.5, 3.0)


def week_plan(plant: benchmark_plant.Plant, hours: int) -> list[Figure]:
    """P4: the week comes from the covering index alone."""
    found = plan(*compiled(week_rows(plant, hours)))
    if not is_postgres():
        is_search = all("SEARCH" in step and "reading_by_meter" in step for step in found)
        return [Figure(f"P4 steps that are not a search of the index: {found}", not is_search, 0)]
    buffers = found["Shared Hit Blocks"] + found["Shared Read Blocks"]
    fetches = 100 * found.get("Heap Fetches", 0) / found["Actual Rows"]
    is_other = found["Node Type"] != "Index Only Scan"
    return [
        Figure(f"P4 other than an index-only scan: {found['Node Type']}", is_other, 0),
        Figure("P4 buffers", buffers, 250),
        Figure("P4 heap fetches of the rows", fetches, 5, "%"),
    ]


def round_page(plant: benchmark_plant.Plant, hours: int) -> list[Figure]:
    """P5: last rounds, limits, normals and instruments of a page, less the same SQL raw.

    The meters themselves, one query of the register, are not among them.
    """
    transmitter = plant.transmitters[0]
    slot = benchmark_plant.START + timedelta(hours=hours)

    def application() -> None:
        LIMITS.rows(transmitter.pk)
        NORMALS.rows(transmitter.pk)
        INSTRUMENTS.rows(transmitter.pk)
        earlier_readings(transmitter, slot)

    with CaptureQueriesContext(connection) as captured:
        application()
    statements = [query["sql"] for query in captured.captured_queries]
    times = pairs(lambda: [fetch(sql) for sql in statements], application)
    above = times[:, 1] - times[:, 0]
    return [
        Figure("P5 round page: ORM less raw, median", float(np.median(above)), 1.5, "ms"),
        Figure("P5 queries for readings and limits", len(statements), 4),
    ]


def save(plant: benchmark_plant.Plant, hours: int) -> list[Figure]:
    """P8: a save with entry, digest and chain over the same rows, raw, in the same tables."""
    transmitter = plant.transmitters[1]
    meters = plant.meters[transmitter.pk]
    slots = (benchmark_plant.START + timedelta(hours=hours + 1 + n) for n in range(10_000))
    cells = {meter: TypedReading(value=12.4) for meter in meters}
    template = raw_rows(transmitter.pk)

    def application() -> None:
        slot = next(slots)
        draft = RoundDraft(transmitter, slot, slot + timedelta(minutes=4), "on", cells)
        with port.silent():
            record_round(draft, by=plant.by, at=slot + timedelta(minutes=7))

    times = pairs(lambda: raw_save(template), application)
    return ratio_figures("P8 save without judging / the same rows raw", times, 3.5, 3.5)


def raw_rows(transmitter_id: int) -> list[tuple[str, list[dict[str, Any]]]]:
    """The newest round of a transmitter as the rows of its three tables."""
    newest = "ORDER BY observed_at DESC LIMIT 1"
    entry = rows_of(f"logbook_entry WHERE transmitter_id = {transmitter_id} {newest}")
    of_round = f"= {entry[0]['id']}"
    return [
        ("logbook_entry", entry),
        ("logbook_round", rows_of(f"logbook_round WHERE entry_id {of_round}")),
        ("logbook_reading", rows_of(f"logbook_reading WHERE round_id {of_round}")),
    ]


def rows_of(source: str) -> list[dict[str, Any]]:
    found = connection.connection.execute(f"SELECT * FROM {source}")
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


# Far apart, because the application's saves take the numbers that follow.
RAW_NUMBER = iter(range(10_000_000, 20_000_000, 1000))


def raw_save(template: list[tuple[str, list[dict[str, Any]]]]) -> None:
    """One transaction of the driver: an entry, its round and its readings."""
    key = next(RAW_NUMBER)
    cursor = connection.connection.cursor()
    cursor.execute("BEGIN" if is_postgres() else "BEGIN IMMEDIATE")
    for table, rows in template:
        fresh = [{**row, **keys_of(table, key, n)} for n, row in enumerate(rows)]
        one = f"({', '.join(['%s' if is_postgres() else '?'] * len(fresh[0]))})"
        columns, places = ", ".join(fresh[0]), ", ".join([one] * len(fresh))
        values = [value for row in fresh for value in row.values()]
        cursor.execute(f"INSERT INTO {table} ({columns}) VALUES {places}", values)
    cursor.execute("COMMIT")


def keys_of(table: str, key: int, number: int) -> dict[str, int]:
    """The keys that tell a copied row from the others."""
    if table == "logbook_entry":
        return {"id": key, "no": key}
    if table == "logbook_round":
        return {"entry_id": key}
    return {"id": key * 100 + number, "round_id": key}


def used_bytes() -> int:
    """Bytes of the readings' table with its indexes."""
    if is_postgres():
        return fetch("SELECT pg_total_relation_size('logbook_reading')")[0][0]
    names = "SELECT name FROM sqlite_master WHERE tbl_name = 'logbook_reading'"
    return fetch(f"SELECT sum(pgsize) FROM dbstat WHERE name IN ({names})")[0][0]


def size(values: int, before: int) -> Figure:
    """P15"""
    bar = 200 if is_postgres() else 85
    return Figure("P15 bytes a value with indexes", (used_bytes() - before) / values, bar, "B")


if __name__ == "__main__":
    sys.exit(main())
