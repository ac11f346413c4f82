"""The rules of the tree, held over every file: who may import whom, and what stays pure."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
APPS = ("station", "logbook", "health")
MAY_IMPORT = {
    "station": {"station"},
    "logbook": {"station", "logbook"},
    "health": {"station", "logbook", "health"},
}
PURE_FOLDERS = ("health/formulas", "health/statistics", "health/rules")
IMPURE_STANDARD = {"time", "pathlib", "os", "sqlite3"}
LATE_IMPORTS = {"station/apps.py"}  # models cannot be loaded while the app registry is built


def sources(folder: str) -> list[Path]:
    return [
        path for path in sorted((ROOT / folder).rglob("*.py")) if "migrations" not in path.parts
    ]


def imports(path: Path) -> Iterator[tuple[ast.stmt, str, list[str]]]:
    """Every import of a file: its node, the module, the names taken from it."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node, alias.name, []
        elif isinstance(node, ast.ImportFrom):
            yield node, node.module or "", [alias.name for alias in node.names]


def wrong_direction(app: str, path: Path) -> list[str]:
    return [
        f"{path.relative_to(ROOT)} imports {module}"
        for _node, module, _names in imports(path)
        if module.split(".")[0] in set(APPS) - MAY_IMPORT[app]
    ]


@pytest.mark.parametrize("app", APPS)
def test_imports_go_from_health_to_logbook_to_station(app: str) -> None:
    assert [fault for path in sources(app) for fault in wrong_direction(app, path)] == []


@pytest.mark.parametrize("app", APPS)
def test_templates_take_only_from_rooms_below(app: str) -> None:
    taken = re.compile(r"{%\s*(?:include|extends|load)\s+\"?([a-z_]+)")
    others = set(APPS) - MAY_IMPORT[app]
    faults = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in sorted((ROOT / app).rglob("*.html"))
        for name in taken.findall(path.read_text())
        if name.split("_")[0] in others
    ]
    assert faults == []


@pytest.mark.parametrize("folder", PURE_FOLDERS)
def test_formulas_statistics_and_rules_import_no_django(folder: str) -> None:
    faults = [
        f"{path.relative_to(ROOT)} imports {module}"
        for path in sources(folder)
        for _node, module, _names in imports(path)
        if is_impure(module)
    ]
    assert faults == []


def is_impure(module: str) -> bool:
    """Not the standard library's pure part, not numbers, not another pure folder."""
    first = module.split(".")[0]
    if first == "health":
        return "/".join(module.split(".")[:2]) not in PURE_FOLDERS
    return first in {"django", "plotly", "station", "logbook"} | IMPURE_STANDARD


def test_no_module_takes_anothers_private_names() -> None:
    faults = [
        f"{path.relative_to(ROOT)}: {module}.{name}"
        for app in (*APPS, "fixtures")
        for path in sources(app)
        for _node, module, names in imports(path)
        for name in names
        if name.startswith("_") and not name.startswith("__")
    ]
    assert faults == []


def test_no_import_hides_inside_a_function() -> None:
    faults = [
        f"{path.relative_to(ROOT)}: {function.name}"
        for app in APPS
        for path in sources(app)
        if str(path.relative_to(ROOT)) not in LATE_IMPORTS
        for function in ast.walk(ast.parse(path.read_text()))
        if isinstance(function, ast.FunctionDef)
        for inner in ast.walk(function)
        if isinstance(inner, ast.Import | ast.ImportFrom)
    ]
    assert faults == []
