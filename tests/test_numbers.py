"""The needs and cases that must have tests have them, and those tests notice a broken rule."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.numbers import ROOT, collect

NEEDS = [1, 2, 4, 5, 6, 8, 10, 11, 13, 14, 15, 28, 52, 76, 87]
CASES = ["C5", "C6", "C8", "C9", "C22", "C23", "C26", "C30"]

# rule, the number whose tests must fail, file, what stands there, what is put in its place
BROKEN = {
    "limits are inclusive": (
        "need 8",
        "health/rules/limits.py",
        "(value >= limit)",
        "(value > limit)",
    ),
    "a comma is a decimal sign": (
        "case C26",
        "logbook/reading_text.py",
        'text.replace(",", ".")',
        'text.replace(",", "")',
    ),
    "a state suppresses what is not live": (
        "need 15",
        "health/rules/limits.py",
        "is_clear = ~is_live | ",
        "is_clear = ",
    ),
}


@pytest.mark.parametrize(
    "number", [f"need {need}" for need in NEEDS] + [f"case {c}" for c in CASES]
)
def test_number_has_a_test(number: str) -> None:
    tests = collect().get(number, [])
    assert tests, f"no test is marked with {number}"


@pytest.mark.parametrize("rule", BROKEN)
def test_tests_of_a_number_fail_when_its_rule_is_broken(rule: str, tmp_path: Path) -> None:
    number, file, stands, put = BROKEN[rule]
    copy = tmp_path / "copy"
    shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".*", "data", "vendor", "browser"))
    source = (copy / file).read_text()
    assert source.count(stands) == 1
    (copy / file).write_text(source.replace(stands, put))
    tests = [test for test in collect()[number] if "browser" not in test]
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-x", "-c", str(ROOT / "pyproject.toml")]
        + [f"--rootdir={copy}", *tests],
        cwd=copy,
        env={**os.environ, "DATA_DIR": str(tmp_path / "data"), "DATABASE_URL": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 1, run.stdout[-2000:]
