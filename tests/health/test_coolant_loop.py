"""The open benchmark's script counts right, and says plainly when there is nothing to score."""

from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks import coolant_loop
from tests.benchmarks.coolant_loop import Counted, Labelled, counted, left_out, read, report

HEADER = "datetime;flow;current;anomaly;changepoint\n"


def made_up(name: str, seed: int, away: float = 8.0) -> Labelled:
    """400 rows of reference, 100 normal ones and 100 with a flow that is far away."""
    rows = np.random.default_rng(seed).normal(size=(600, 3))
    is_fault = np.arange(600) >= 500
    rows[is_fault, 0] += away
    return Labelled(name, rows, is_fault)


class TestCounting:
    def test_each_row_is_counted_once(self) -> None:
        """Said of rows 1, 2, 3 of five, a fault in 2, 3, 4: two hits, one false, one missed, one
        quiet; F1 = 4 / 6, one of two normal rows false, one of three missed."""
        found = counted(
            np.array([True, True, True, False, False]),
            np.array([False, True, True, True, False]),
        )
        assert found == Counted(hits=2, false=1, missed=1, quiet=1)
        assert (found.f1, found.false_share, found.missed_share) == pytest.approx(
            (2 / 3, 1 / 2, 1 / 3)
        )

    def test_counts_of_files_are_joined(self) -> None:
        assert Counted(1, 2, 3, 4) + Counted(5, 6, 7, 8) == Counted(6, 8, 10, 12)

    def test_nothing_at_all_is_no_division_by_zero(self) -> None:
        assert (Counted().f1, Counted().false_share, Counted().missed_share) == (0.0, 0.0, 0.0)


class TestSetting:
    def test_file_gets_what_is_best_on_the_others(self) -> None:
        """(1, 1) is perfect on the first file and blind on the two others, (2, 2) the reverse: the
        first file gets the one that is best elsewhere, and so is missed."""
        good, blind = Counted(hits=9, quiet=1), Counted(missed=9, quiet=1)
        one, two = (1.0, 1.0), (2.0, 2.0)
        tables = {
            "a": {one: good, two: blind},
            "b": {one: blind, two: good},
            "c": {one: blind, two: good},
        }
        files = [made_up(name, seed=1) for name in tables]
        total, chosen = left_out(files, lambda file: tables[file.name])
        assert chosen[0] == two
        assert total.missed >= 9


class TestReport:
    def test_clear_fault_is_found_by_both(self) -> None:
        lines = report([made_up(name, seed) for seed, name in enumerate("abc")])
        assert lines[0] == "3 files, 1800 rows, 300 of them in a fault"
        for line in (lines[1], lines[4]):
            assert float(line.split("F1 ")[1].split(",")[0]) > 0.9, line

    def test_labels_are_no_channels(self, tmp_path: Path) -> None:
        path = tmp_path / "made_up.csv"
        path.write_text(
            HEADER + "2026-01-01 00:00:00;1.5;20;0.0;0.0\n2026-01-01 00:00:01;1;2;1;1\n"
        )
        found = read(path)
        assert found.rows.tolist() == [[1.5, 20.0], [1.0, 2.0]]
        assert found.is_fault.tolist() == [False, True]

    def test_missing_folder_is_said_plainly(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("sys.argv", ["coolant_loop", "--data", str(tmp_path / "nowhere")])
        assert coolant_loop.main() == 1
        assert "no files to score in nowhere" in capsys.readouterr().err
