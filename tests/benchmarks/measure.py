"""How the benchmarks measure: pairs of floor and application, one after the other in one run."""

import argparse
import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db import connection, models

PAIRS = 60


@dataclass(frozen=True)
class Figure:
    """One line of the table: what was measured, its value and its bar (the most it may be)."""

    name: str
    value: float
    bar: float
    unit: str = ""

    @property
    def is_within(self) -> bool:
        return self.value <= self.bar

    def line(self) -> str:
        verdict = "within" if self.is_within else "OVER"
        return f"{self.name:58} {self.value:10.2f} {self.unit:4} bar {self.bar:8.2f}  {verdict}"


def options_of(doc: str, *, scale: float) -> argparse.ArgumentParser:
    """The command line of a benchmark: what it says of itself, and how many years it writes."""
    parser = argparse.ArgumentParser(description=doc.splitlines()[0])
    parser.add_argument("--scale", type=float, default=scale, help="part of ten years")
    return parser


@contextmanager
def own_database() -> Iterator[None]:
    """A test database that is gone afterwards."""
    connection.creation.create_test_db(verbosity=0)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)


def milliseconds(work: Callable[[], Any]) -> float:
    started = time.perf_counter()
    work()
    return (time.perf_counter() - started) * 1000


def pairs(floor: Callable[[], Any], application: Callable[[], Any]) -> np.ndarray:
    """Milliseconds of both, shape (PAIRS, 2), after a warm-up of each."""
    floor(), application()
    return np.array([[milliseconds(floor), milliseconds(application)] for _pair in range(PAIRS)])


def ratio_figures(name: str, times: np.ndarray, median: float, p95: float) -> list[Figure]:
    ratios = times[:, 1] / times[:, 0]
    return [
        Figure(f"{name}, median of {len(ratios)}", float(np.median(ratios)), median, "x"),
        Figure(f"{name}, 95th percentile", float(np.percentile(ratios, 95)), p95, "x"),
    ]


def compiled(rows: models.QuerySet) -> tuple[str, tuple]:
    """The SQL and parameters that the ORM sends."""
    return rows.query.sql_with_params()


def fetch(sql: str, parameters: tuple = ()) -> list[tuple]:
    """The raw driver: no wrapper of the framework's."""
    if connection.vendor == "sqlite":
        return connection.connection.execute(sql.replace("%s", "?"), parameters).fetchall()
    return connection.connection.execute(sql, parameters).fetchall()


def plan(sql: str, parameters: tuple) -> Any:
    if connection.vendor == "sqlite":
        return [row[3] for row in fetch(f"EXPLAIN QUERY PLAN {sql}", parameters)]
    explained = fetch(f"EXPLAIN (ANALYZE, BUFFERS, FORMAT JSON) {sql}", parameters)[0][0]
    top = explained if isinstance(explained, list) else json.loads(explained)
    return top[0]["Plan"]


def report(figures: list[Figure]) -> int:
    """Print the table; 1 if anything is over its bar."""
    print(f"\n{connection.vendor}")
    for figure in figures:
        print(figure.line())
    return 0 if all(figure.is_within for figure in figures) else 1
