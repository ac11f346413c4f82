"""The multivariate chart on an open benchmark: ``python -m tests.benchmarks.coolant_loop``.

A report, and no target to tune to. The folder holds files of a coolant loop with labelled faults,
once a second (SKAB v0.9, doi 10.34740/kaggle/dsv/1693952, GPL-3: read where it lies, and nothing of
it is kept here). By its protocol the first 400 rows of a file are the reference, all rows are
scored and the labels of all files are concatenated. The setting of each file is the one that is
best on all the others; T-squared and Q get theirs in the same way.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import stats

from health.rules.pattern import FACTOR, WEIGHT
from health.statistics.pattern import fitted, sizes, usual_size, weighted_means

Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]

FOLDER = Path(__file__).resolve().parents[2].parent / "shared" / "data" / "coolant_loop"
REFERENCE_ROWS = 400
NO_CHANNELS = ("datetime", "anomaly", "changepoint")
WEIGHTS = (1.0, WEIGHT, 0.3, 0.2, 0.1, 0.05, 0.03, 0.02)
FACTORS = (0.5, 0.7, 1.0, 1.4, FACTOR, 3.0, 4.0, 6.0, 8.0, 12.0)
EXPLAINED, BEYOND = (0.7, 0.8, 0.9, 0.95), (0.05, 0.01, 0.001)
TEXTBOOK = (0.9, 0.01)
"""Part of the variance kept and level of both limits as a textbook has them."""
Setting = tuple[float, float]


@dataclass(frozen=True)
class Labelled:
    """One file: rows x channels, and which rows are in a fault."""

    name: str
    rows: Numbers
    is_fault: Marks


@dataclass(frozen=True)
class Counted:
    """Rows by what they are and what was said of them."""

    hits: int = 0
    false: int = 0
    missed: int = 0
    quiet: int = 0

    def __add__(self, other: "Counted") -> "Counted":
        return Counted(
            self.hits + other.hits,
            self.false + other.false,
            self.missed + other.missed,
            self.quiet + other.quiet,
        )

    @property
    def f1(self) -> float:
        return 2 * self.hits / max(2 * self.hits + self.false + self.missed, 1)

    @property
    def false_share(self) -> float:
        """Of the normal rows."""
        return self.false / max(self.false + self.quiet, 1)

    @property
    def missed_share(self) -> float:
        """Of the rows in a fault."""
        return self.missed / max(self.missed + self.hits, 1)

    def words(self) -> str:
        return (
            f"F1 {self.f1:.3f}, false {100 * self.false_share:.1f} % of the normal rows, "
            f"missed {100 * self.missed_share:.1f} % of the fault's"
        )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", type=Path, default=FOLDER)
    folder = parser.parse_args().data
    files = [read(path) for path in sorted(folder.glob("*.csv"))]
    if len(files) < 2:
        print(f"no files to score in {folder.name}: give the folder by --data", file=sys.stderr)
        return 1
    for line in report(files):
        print(line)
    return 0


def read(path: Path) -> Labelled:
    table = pd.read_csv(path, sep=";")
    rows = table.drop(columns=[name for name in NO_CHANNELS if name in table])
    return Labelled(path.stem, rows.to_numpy(dtype=float), table["anomaly"].to_numpy() > 0.5)


def report(files: Sequence[Labelled]) -> list[str]:
    rows = sum(one.is_fault.size for one in files)
    faults = sum(int(one.is_fault.sum()) for one in files)
    ours, ours_set = left_out(files, our_counts)
    plain, plain_set = left_out(files, plain_counts)
    as_judged = sum((our_counts(one)[WEIGHT, FACTOR] for one in files), Counted())
    textbook = sum((plain_counts(one)[TEXTBOOK] for one in files), Counted())
    return [
        f"{len(files)} files, {rows} rows, {faults} of them in a fault",
        f"this chart, setting left one file out: {ours.words()}",
        f"  weight and factor of the limit: {set_words(ours_set)}",
        f"  at the setting of the judge, {WEIGHT:g} and {FACTOR:g}: {as_judged.words()}",
        f"T-squared + Q, setting left one file out: {plain.words()}",
        f"  variance kept and level: {set_words(plain_set)}",
        f"T-squared + Q at {TEXTBOOK[0]:g} and {TEXTBOOK[1]:g}: {textbook.words()}",
    ]


def set_words(chosen: Sequence[Setting]) -> str:
    counts = [(*one, chosen.count(one)) for one in sorted(set(chosen))]
    return ", ".join(f"{one:g} and {two:g} ({count} files)" for one, two, count in counts)


def left_out(
    files: Sequence[Labelled], counts: Callable[[Labelled], dict[Setting, Counted]]
) -> tuple[Counted, list[Setting]]:
    """Each file counted by the setting with the best F1 on all the others; and those settings."""
    tables = [counts(one) for one in files]
    total, chosen = Counted(), []
    for place, table in enumerate(tables):
        others = [one for number, one in enumerate(tables) if number != place]
        best = max(table, key=lambda one: sum((t[one] for t in others), Counted()).f1)
        total, chosen = total + table[best], [*chosen, best]
    return total, chosen


def our_counts(one: Labelled) -> dict[Setting, Counted]:
    """By weight and factor of the limit."""
    found = {}
    reference = one.rows[:REFERENCE_ROWS]
    floor = half_steps(reference)
    for weight in WEIGHTS:
        chart = fitted(reference, weight=weight, floor=floor)
        usual = usual_size(reference, weight=weight, floor=floor)
        size = sizes(chart, weighted_means(one.rows, weight)) / usual
        for factor in FACTORS:
            found[weight, factor] = counted(size > factor, one.is_fault)
    return found


def half_steps(reference: Numbers) -> Numbers:
    """Half of the smallest difference between two values of each channel; 1 of a constant one."""
    steps = [np.diff(np.unique(column)) for column in reference.T]
    return np.array([one.min() / 2 if one.size else 1.0 for one in steps])


def counted(is_said: Marks, is_fault: Marks) -> Counted:
    return Counted(
        hits=int((is_said & is_fault).sum()),
        false=int((is_said & ~is_fault).sum()),
        missed=int((~is_said & is_fault).sum()),
        quiet=int((~is_said & ~is_fault).sum()),
    )


def plain_counts(one: Labelled) -> dict[Setting, Counted]:
    """By part of the variance kept and level of both limits."""
    return {
        setting: counted(plain_signals(one.rows, *setting), one.is_fault)
        for setting in product(EXPLAINED, BEYOND)
    }


def plain_signals(rows: Numbers, explained: float, level: float) -> Marks:
    """Where T-squared of the kept components or Q of the rest passes its limit.

    Source: Hotelling's T-squared with the limit by F; Q with that of Jackson and Mudholkar,
    Technometrics 21(3), 1979.
    """
    reference = rows[:REFERENCE_ROWS]
    spread = reference.std(axis=0, ddof=1)
    apart = (rows - reference.mean(axis=0)) / np.where(spread > 0, spread, 1.0)
    values, vectors = np.linalg.eigh(np.cov(apart[:REFERENCE_ROWS].T))
    values, vectors = values[::-1], vectors[:, ::-1]
    kept = int(np.searchsorted(np.cumsum(values) / values.sum(), explained)) + 1
    along = apart @ vectors[:, :kept]
    t_squared = (along**2 / values[:kept]).sum(axis=1)
    q = ((apart - along @ vectors[:, :kept].T) ** 2).sum(axis=1)
    t_limit = t_squared_limit(len(reference), kept, level)
    return (t_squared > t_limit) | (q > q_limit(values[kept:], level))


def t_squared_limit(count: int, kept: int, level: float) -> float:
    factor = kept * (count - 1) * (count + 1) / (count * (count - kept))
    return float(factor * stats.f.isf(level, kept, count - kept))


def q_limit(left: Numbers, level: float) -> float:
    """Of the components that were not kept; none where all were."""
    one, two, three = ((left**power).sum() for power in (1, 2, 3))
    if one <= 0:
        return float("inf")
    h = 1 - 2 * one * three / (3 * two**2)
    c = stats.norm.isf(level)
    inner = c * np.sqrt(2 * two * h**2) / one + 1 + two * h * (h - 1) / one**2
    return float(one * inner ** (1 / h))


if __name__ == "__main__":
    sys.exit(main())
