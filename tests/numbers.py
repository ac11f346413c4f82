"""Which tests cover which need and which awkward case of the trade: ``python -m tests.numbers``."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
MARKS = {"pytest.mark.need", "pytest.mark.case"}
Numbers = dict[str, list[str]]


def marks(node: ast.FunctionDef | ast.ClassDef) -> Iterator[str]:
    """'need 8' for ``@pytest.mark.need(8)``, 'case C5' for ``@pytest.mark.case("C5")``."""
    for decorator in node.decorator_list:
        for call in ast.walk(decorator):  # also the marks of one parameter
            if isinstance(call, ast.Call) and ast.unparse(call.func) in MARKS:
                yield from (f"{call.func.attr} {ast.literal_eval(arg)}" for arg in call.args)


def marked_tests(path: Path) -> Iterator[tuple[str, str]]:
    """(number, test) for every marked test of a file; a class's marks go to all of its tests."""
    name = str(path.relative_to(ROOT))
    for node in ast.parse(path.read_text()).body:
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            yield from ((number, f"{name}::{node.name}") for number in marks(node))
        elif isinstance(node, ast.ClassDef):
            yield from class_tests(name, node)


def class_tests(name: str, group: ast.ClassDef) -> Iterator[tuple[str, str]]:
    for test in group.body:
        if isinstance(test, ast.FunctionDef) and test.name.startswith("test_"):
            for number in [*marks(group), *marks(test)]:
                yield number, f"{name}::{group.name}::{test.name}"


def collect() -> Numbers:
    """Number -> tests, over the whole suite."""
    found: Numbers = defaultdict(list)
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        for number, test in marked_tests(path):
            found[number].append(test)
    return dict(found)


def in_order(number: str) -> tuple[str, int]:
    kind, value = number.split()
    return kind, int(value.lstrip("C"))


if __name__ == "__main__":
    for number, tests in sorted(collect().items(), key=lambda item: in_order(item[0])):
        print(number)
        for test in tests:
            print(f"    {test}")
