"""The pages that explain each rule and each formula."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from inspect import getdoc, getmembers, isfunction, signature
from pkgutil import iter_modules
from types import ModuleType

from health import formulas
from health.docstrings import Docstring, parsed
from health.explanations import RULES, RuleText

PARAMETERS = "Parameters\n---"
"""What the docstring of every public formula has, and that of a small helper has not."""


@dataclass(frozen=True)
class FormulaPage:
    """A formula as its own docstring says it; ``rules`` stand on it."""

    name: str
    call: str
    text: Docstring
    rules: tuple[tuple[str, RuleText], ...]


@dataclass(frozen=True)
class FormulaGroup:
    title: str
    pages: tuple[FormulaPage, ...]


@dataclass(frozen=True)
class RulePage:
    name: str
    text: RuleText
    formulas: tuple[FormulaPage, ...]


@dataclass(frozen=True)
class Explanations:
    rules: tuple[tuple[str, RuleText], ...]
    groups: tuple[FormulaGroup, ...]


@cache
def formula_groups() -> tuple[FormulaGroup, ...]:
    """The public formulas by their module."""
    modules = (import_module(f"{formulas.__name__}.{one.name}") for one in iter_modules(PLACES))
    groups = (FormulaGroup(title_of(one), tuple(pages_of(one))) for one in modules)
    return tuple(group for group in groups if group.pages)


PLACES = list(formulas.__path__)


def title_of(module: ModuleType) -> str:
    return parsed(module.__doc__ or "").summary


def pages_of(module: ModuleType) -> Iterator[FormulaPage]:
    for name, function in getmembers(module, isfunction):
        text = getdoc(function) or ""
        if function.__module__ == module.__name__ and PARAMETERS in text:
            yield formula_page(name, function, text)


def formula_page(name: str, function: Callable[..., object], text: str) -> FormulaPage:
    return FormulaPage(
        name=name,
        call=f"{name}({', '.join(signature(function).parameters)})",
        text=parsed(text),
        rules=tuple((rule, one) for rule, one in RULES.items() if name in one.formulas),
    )


def formula_pages() -> dict[str, FormulaPage]:
    return {page.name: page for group in formula_groups() for page in group.pages}


def explanations() -> Explanations:
    return Explanations(tuple(RULES.items()), formula_groups())


def rule_page(name: str) -> RulePage | None:
    text = RULES.get(name)
    if text is None:
        return None
    known = formula_pages()
    return RulePage(name, text, tuple(known[formula] for formula in text.formulas))
