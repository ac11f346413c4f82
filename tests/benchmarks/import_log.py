"""Import against the raw driver: ``python -m tests.benchmarks.import_log``.

Twelve transmitters with 24 meters; a wide file of two weeks is imported into a log of a tenth of
the length, and into one of the whole. The floor writes the same readings, and nothing else, into
a table of the same columns and indexes.
"""

import argparse
import csv
import sys
import time
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

from django.db import connection  # noqa: E402

from logbook.cell_text import exact  # noqa: E402
from logbook.importing.run import import_file  # noqa: E402
from logbook.inserts import READING_COLUMNS  # noqa: E402
from logbook.services.bulk import write_past  # noqa: E402
from tests.benchmarks.measure import Figure, fetch, report  # noqa: E402
from tests.benchmarks.plant import HOURS_IN_TEN_YEARS, Plant, build, rounds  # noqa: E402

FILE_HOURS = 24 * 14
REPEATS = 3
PARTS = (0.1, 1.0)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--scale", type=float, default=0.1, help="part of ten years")
    hours = round(HOURS_IN_TEN_YEARS * parser.parse_args().scale)
    connection.creation.create_test_db(verbosity=0)
    try:
        return measure(hours)
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)


def measure(hours: int) -> int:
    plant = build()
    written, done, best = rounds(plant, hours), 0, []
    for number, part in enumerate(PARTS):
        wanted = round(hours * part) * len(plant.transmitters) - done
        done += write_past(plant.station, (next(written) for _round in range(wanted)))
        settle()
        best.append(best_import(plant, hours + number * REPEATS * (FILE_HOURS + 24)))
    values = FILE_HOURS * len(plant.transmitters) * len(next(iter(plant.meters.values())))
    floor = min(raw_seconds(values) for _repeat in range(REPEATS))
    print(f"{values / best[-1]:,.0f} values/s, floor {values / floor:,.0f} values/s")
    bar = 0.35 if connection.vendor == "postgresql" else 0.40
    return report(
        [
            Figure("P10 time of import / raw writing of its readings", best[-1] / floor, 1 / bar),
            Figure("P11 time of import at the whole / at a tenth", best[-1] / best[0], 1 / 0.85),
        ]
    )


def settle() -> None:
    """What the database does by itself in service, done now."""
    is_postgres = connection.vendor == "postgresql"
    connection.cursor().execute("VACUUM ANALYZE" if is_postgres else "ANALYZE")


def best_import(plant: Plant, first_hour: int) -> float:
    """The least seconds of some imports, each of a fresh file."""
    with TemporaryDirectory() as folder:
        paths = [Path(folder) / f"{number}.csv" for number in range(REPEATS)]
        for number, path in enumerate(paths):
            write_file(plant, path, first_hour + number * (FILE_HOURS + 24))
        return min(seconds_of(plant, path) for path in paths)


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
        for past in rounds(plant, FILE_HOURS):
            at = past.draft.observed_at + shift
            cells = [exact(reading.value) for reading in past.readings]
            code = past.draft.transmitter.code
            writer.writerow([f"{at:%Y-%m-%dT%H:%M:%SZ}", code, "on", "bench", *cells])


def raw_seconds(values: int) -> float:
    """Seconds of the driver for the newest readings, into an empty table of the same make."""
    columns = ", ".join(READING_COLUMNS)
    newest = f"SELECT {columns} FROM logbook_reading ORDER BY id DESC LIMIT {values}"
    rows = fetch(newest)
    make_floor()
    started = time.perf_counter()
    write_raw(columns, rows)
    return time.perf_counter() - started


def make_floor() -> None:
    cursor = connection.cursor()
    cursor.execute("DROP TABLE IF EXISTS floor_reading")
    if connection.vendor == "postgresql":
        cursor.execute("CREATE TABLE floor_reading (LIKE logbook_reading INCLUDING ALL)")
        return
    statements = fetch(
        "SELECT sql FROM sqlite_master WHERE tbl_name = 'logbook_reading' AND sql IS NOT NULL"
        " AND type <> 'trigger' ORDER BY type DESC"
    )
    for (statement,) in statements:
        renamed = statement.replace("logbook_reading", "floor_reading")
        cursor.execute(renamed.replace('INDEX "', 'INDEX "floor_'))


def write_raw(columns: str, rows: Sequence[tuple]) -> None:
    raw = connection.connection
    if connection.vendor == "postgresql":
        with raw.cursor().copy(f"COPY floor_reading ({columns}) FROM STDIN") as copy:
            for row in rows:
                copy.write_row(row)
        return
    places = ", ".join("?" * len(READING_COLUMNS))
    raw.execute("BEGIN IMMEDIATE")
    raw.executemany(f"INSERT INTO floor_reading ({columns}) VALUES ({places})", rows)
    raw.execute("COMMIT")


if __name__ == "__main__":
    sys.exit(main())
