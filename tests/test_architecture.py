"""The rules of the tree, held over every file: who may import whom, and what stays pure."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parent.parent
MAY_IMPORT = {
    "station": {"station"},
    "logbook": {"station", "logbook"},
    "health": {"station", "logbook", "health"},
}
APPS = tuple(MAY_IMPORT)
MAY_NAME_OTHERS = {"station/settings.py", "station/urls.py"}  # the wiring, and by string alone
PURE = ("health/formulas", "health/statistics", "health/rules") + (
    "logbook/points.py",
    "logbook/counters.py",
)
IMPURE = {"django", "plotly", "fixtures", "tests", "time", "pathlib", "os", "io", "sqlite3"} | {
    "logging",
    "random",
}
CLOCKS = {"now", "utcnow", "today", "localtime"}
LATE_IMPORTS = {
    "station/apps.py",  # models cannot be loaded while the app registry is built
}


class Import(NamedTuple):
    """One imported module or name, written out in full: `logbook.ledger.append`."""

    module: str
    name: str = ""


def sources(*places: str) -> list[Path]:
    """Every Python file of folders and files, migrations apart."""
    found = [path for place in places for path in files_of(ROOT / place)]
    return [path for path in found if "migrations" not in path.parts]


def files_of(place: Path) -> list[Path]:
    return [place] if place.is_file() else sorted(place.rglob("*.py"))


def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text())


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT))


def imports(path: Path) -> Iterator[Import]:
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (Import(alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = full_module(node, path)
            yield from (Import(module, alias.name) for alias in node.names)


def full_module(node: ast.ImportFrom, path: Path) -> str:
    """The module's whole name, a relative import resolved."""
    if not node.level:
        return node.module or ""
    package = path.relative_to(ROOT).parts[: -node.level]
    return ".".join([*package, *([node.module] if node.module else [])])


def strings(path: Path) -> Iterator[str]:
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def rooms_above(app: str) -> set[str]:
    return set(APPS) - MAY_IMPORT[app]


@pytest.mark.parametrize("app", APPS)
def test_imports_go_from_health_to_logbook_to_station(app: str) -> None:
    faults = [
        f"{name_of(path)} imports {one.module}"
        for path in sources(app)
        for one in imports(path)
        if one.module.split(".")[0] in rooms_above(app) | {"fixtures", "tests"}
        and not is_demo_command(path, one.module)
    ]
    assert faults == []


def is_demo_command(path: Path, module: str) -> bool:
    """The demo loads the invented station, which no other code may know."""
    return path.parent.name == "commands" and module.split(".")[0] == "fixtures"


@pytest.mark.parametrize("app", APPS)
def test_no_string_names_a_room_above(app: str) -> None:
    """A model, view or module named by a string is an import in disguise."""
    above = "|".join(rooms_above(app)) or "(?!)"
    reference = re.compile(rf"(?:{above})[.:/]\w+")
    faults = [
        f"{name_of(path)} names {text}"
        for path in sources(app)
        if name_of(path) not in MAY_NAME_OTHERS
        for text in strings(path)
        if reference.match(text)
    ]
    assert faults == []


TAG = re.compile(r"{%\s*(?:include|extends|load)\s+(.*?)%}", re.DOTALL)


@pytest.mark.parametrize("app", APPS)
def test_templates_take_only_from_rooms_below(app: str) -> None:
    above = re.compile(rf"\b(?:{'|'.join(rooms_above(app)) or '(?!)'})(?=[_/.\s])")
    faults = [
        f"{name_of(path)}: {tag}"
        for path in sorted((ROOT / app).rglob("templates/**/*.html"))
        for tag in TAG.findall(path.read_text())
        if above.search(tag.split(" with ")[0])
    ]
    assert faults == []


def test_pure_code_imports_only_pure_code() -> None:
    faults = [
        f"{name_of(path)} imports {one.module}"
        for path in sources(*PURE)
        for one in imports(path)
        if is_impure(one)
    ]
    assert faults == []


def is_impure(one: Import) -> bool:
    """Not the standard library's pure part, not numbers, not another pure file."""
    first = one.module.split(".")[0]
    if first not in APPS:
        return first in IMPURE
    place = f"{one.module}.{one.name}".replace(".", "/")
    return not place.startswith(tuple(pure.removesuffix(".py") for pure in PURE))


def test_pure_code_reads_no_clock() -> None:
    faults = [
        f"{name_of(path)}:{node.lineno} calls {ast.unparse(node.func)}"
        for path in sources(*PURE)
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in CLOCKS
    ]
    assert faults == []


def test_no_module_takes_anothers_private_names() -> None:
    faults = [
        f"{name_of(path)}: {taken}"
        for path in sources(*APPS, "fixtures")
        for taken in private_names(path)
    ]
    assert faults == []


def private_names(path: Path) -> Iterator[str]:
    """Underscore names imported, or reached through a module or class of ours."""
    ours = [one for one in imports(path) if one.module.split(".")[0] in {*APPS, "fixtures"}]
    known = {one.name for one in ours if one.name}
    yield from (f"{one.module}.{one.name}" for one in ours if is_private(one.name))
    attributes = [node for node in ast.walk(tree_of(path)) if isinstance(node, ast.Attribute)]
    for node in attributes:
        if is_private(node.attr) and ast.unparse(node.value) in known:
            yield ast.unparse(node)


def is_private(name: str) -> bool:
    return name.startswith("_") and not name.startswith("__") and name != "_meta"


def test_no_import_hides_inside_a_function() -> None:
    faults = [
        fault
        for path in sources(*APPS)
        if name_of(path) not in LATE_IMPORTS
        for fault in late_imports(path)
    ]
    assert faults == []


def test_every_late_import_that_is_allowed_is_still_there() -> None:
    """A file that has grown clean leaves the list."""
    assert [place for place in LATE_IMPORTS if not list(late_imports(ROOT / place))] == []


def late_imports(path: Path) -> Iterator[str]:
    for function in ast.walk(tree_of(path)):
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
            for inner in ast.walk(function):
                if isinstance(inner, ast.Import | ast.ImportFrom):
                    yield f"{name_of(path)}:{inner.lineno} in {function.name}"


@pytest.mark.parametrize("place", PURE[:1] + PURE[2:4])
def test_pure_places_hold_code(place: str) -> None:
    """A renamed folder would leave the rules above with nothing to look at."""
    assert sources(place) != []


SECTIONS = ["Parameters", "Returns", "Notes", "Source", "Example"]
# Small helpers inside the formulas, whose one line says all.
HELPERS = {"floats", "divided", "where", "standing", "depth", "of_water"}


def formulas() -> list[tuple[str, ast.FunctionDef]]:
    return [
        (f"{path.stem}.{node.name}", node)
        for path in sorted((ROOT / "health" / "formulas").glob("*.py"))
        for node in ast.parse(path.read_text()).body
        if isinstance(node, ast.FunctionDef) and node.name not in HELPERS
    ]


@pytest.mark.parametrize(("name", "node"), formulas(), ids=[name for name, _node in formulas()])
def test_every_formula_says_what_it_is(name: str, node: ast.FunctionDef) -> None:
    """Sections in order, a unit for each parameter and for the result, a source, an example."""
    text = ast.get_docstring(node) or ""
    places = [text.find(f"{title}\n{'-' * len(title)}\n") for title in SECTIONS]
    assert -1 not in places, f"{name} lacks {SECTIONS[places.index(-1)]}"
    assert places == sorted(places), f"{name}: the sections stand in another order"
    parameters = text[places[0] : places[1]]
    for argument in node.args.args:
        line = next((one for one in parameters.splitlines() if argument.arg in one), "")
        assert re.search(r"\[.+\]", line), f"{name} gives no unit for {argument.arg}"
    assert re.search(r"\[.+\]|bool", text[places[1] : places[2]]), f"{name} returns no unit"
