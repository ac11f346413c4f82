"""Import against the raw driver: ``python -m tests.benchmarks.import_log``.

Twelve transmitters with 24 meters; a wide file of two weeks is imported into a log of a tenth of
the length, and into one of the whole. The floor writes the same readings, and nothing else, into
the same table with its indexes, keys and triggers, out of memory.
"""

import csv
import sys
import time
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import numpy as np  # noqa: E402
from django.db import connection  # noqa: E402

from logbook.cell_text import exact  # noqa: E402
from logbook.importing.run import import_file  # noqa: E402
from logbook.inserts import READING_COLUMNS  # noqa: E402
from station.models import Station  # noqa: E402
from tests.benchmarks.measure import Figure, fetch, options_of, own_database, report  # noqa: E402
from tests.benchmarks.plant import HOURS_IN_TEN_YEARS, Plant, build, rounds, write  # noqa: E402

FILE_HOURS = 24 * 14
REPEATS = 5
FAR = 1_000_000_000
PARTS = (0.0, 0.1, 1.0)


def main() -> int:
    hours = round(HOURS_IN_TEN_YEARS * options_of(__doc__, scale=0.1).parse_args().scale)
    with own_database():
        return measure(hours)


def measure(hours: int) -> int:
    plant = build()
    seconds = []
    for number, (first, last) in enumerate(pairwise(round(hours * part) for part in PARTS)):
        write(plant, first, last)
        settle()
        seconds.append(imports_after(plant, hours, number))
    values = FILE_HOURS * len(plant.transmitters) * len(next(iter(plant.meters.values())))
    whole = np.median(seconds[-1], axis=0)
    print(f"{values / whole[0]:,.0f} values/s, floor {values / whole[1]:,.0f} values/s")
    return report(figures(seconds))


def figures(seconds: Sequence[np.ndarray]) -> list[Figure]:
    """P10 and P11 of the imports into a tenth and into the whole, each (REPEATS, 2)."""
    tenth, whole = (np.median(one[:, 0]) for one in seconds)
    ratio = float(np.median(seconds[-1][:, 0] / seconds[-1][:, 1]))
    bar = 0.35 if connection.vendor == "postgresql" else 0.40
    return [
        Figure("P10 time of import / raw writing of its readings", ratio, 1 / bar, "x"),
        Figure("P11 time of import at the whole / at a tenth", whole / tenth, 1 / 0.85),
    ]


def settle() -> None:
    """What the database does by itself in service, done now."""
    is_postgres = connection.vendor == "postgresql"
    connection.cursor().execute("VACUUM ANALYZE" if is_postgres else "ANALYZE")


def imports_after(plant: Plant, hours: int, number: int) -> np.ndarray:
    """Imports of what came after ``hours``, the first or the second time that they are made."""
    return imports_and_floors(plant, hours + number * REPEATS * (FILE_HOURS + 24))


def imports_and_floors(plant: Plant, first_hour: int) -> np.ndarray:
    """Seconds of some imports, each of a fresh file, and of the floor after each: (REPEATS, 2)."""
    values = FILE_HOURS * len(plant.transmitters) * len(next(iter(plant.meters.values())))
    seconds = []
    with TemporaryDirectory() as folder:
        path = Path(folder) / "past.csv"
        for number in range(REPEATS):
            write_file(plant, path, first_hour + number * (FILE_HOURS + 24))
            seconds.append([seconds_of(plant, path), raw_seconds(values)])
    return np.array(seconds)


def seconds_of(plant: Plant, path: Path) -> float:
    started = time.perf_counter()
    done = import_file(path, plant.station, at=datetime(2100, 1, 1, tzinfo=UTC))
    seconds = time.perf_counter() - started
    if done.faults or done.rounds != FILE_HOURS * len(plant.transmitters):
        raise AssertionError(done.fault_lines())
    return seconds


def write_file(plant: Plant, path: Path, first_hour: int) -> None:
    codes = [meter.code for meter in next(iter(plant.meters.values()))]
    shift = timedelta(hours=first_hour)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["observed_at", "transmitter", "modulation", "observer", *codes])
        for past in rounds(plant, range(FILE_HOURS)):
            at = past.draft.observed_at + shift
            cells = [exact(reading.value) for reading in past.readings]
            code = past.draft.transmitter.code
            writer.writerow([f"{at:%Y-%m-%dT%H:%M:%SZ}", code, "on", "bench", *cells])


def raw_seconds(values: int) -> float:
    """Seconds of the driver for as many readings, of rounds that are there without any."""
    columns = ", ".join(READING_COLUMNS)
    newest = f"SELECT {columns} FROM logbook_reading ORDER BY id DESC LIMIT {values}"
    rows = [dict(zip(READING_COLUMNS, row, strict=True)) for row in fetch(newest)]
    floor = floor_station()
    copy_rounds(sorted({row["round_id"] for row in rows}), floor)
    moved = [moved_row(row, ("round_id",), floor) for row in rows]
    started = time.perf_counter()
    write_raw(columns, moved)
    return time.perf_counter() - started


def floor_station() -> int:
    """The floor's rows are another station's, so that the log's numbers go on undisturbed."""
    return Station.objects.get_or_create(code="floor", defaults={"name": "Floor"})[0].pk


def copy_rounds(keys: Sequence[int], station: int) -> None:
    """The same rounds once more under keys far away, without readings."""
    for table, own in (("logbook_entry", "id"), ("logbook_round", "entry_id")):
        found = connection.connection.execute(
            f"SELECT * FROM {table} WHERE {own} BETWEEN {keys[0]} AND {keys[-1]}"
        )
        names = [column[0] for column in found.description]
        rows = [dict(zip(names, row, strict=True)) for row in found.fetchall()]
        places = ", ".join(["%s"] * len(names))
        with connection.cursor() as cursor:
            cursor.executemany(
                f"INSERT INTO {table} VALUES ({places})",
                [moved_row(row, (own,), station) for row in rows],
            )


def moved_row(row: dict[str, Any], keys: Sequence[str], station: int) -> tuple[Any, ...]:
    moved = {name: row[name] + FAR for name in keys}
    return tuple({**row, **moved, "station_id": station}.values())


def write_raw(columns: str, rows: Sequence[tuple]) -> None:
    raw = connection.connection
    if connection.vendor == "postgresql":
        copying = f"COPY logbook_reading ({columns}) FROM STDIN"
        with raw.transaction(), raw.cursor() as cursor, cursor.copy(copying) as copy:
            for row in rows:
                copy.write_row(row)
        return
    places = ", ".join("?" * len(READING_COLUMNS))
    raw.execute("BEGIN IMMEDIATE")
    raw.executemany(f"INSERT INTO logbook_reading ({columns}) VALUES ({places})", rows)
    raw.execute("COMMIT")


if __name__ == "__main__":
    sys.exit(main())
