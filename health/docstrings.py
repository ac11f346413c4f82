"""Reading the docstring of a formula, so that its page cannot say anything else. Pure."""

import re
from dataclasses import dataclass
from inspect import cleandoc

SECTION = re.compile(r"^(\w+)\n-{3,}\n", re.MULTILINE)
HEAD = re.compile(r"(?:(?P<names>.+?) : )?(?P<kind>[^\[]*?)(?: \[(?P<unit>.+)\])?")


@dataclass(frozen=True)
class Quantity:
    """A parameter or a result: ``unit`` '' where it has none, ``names`` '' of a result."""

    names: str
    kind: str
    unit: str
    words: str


@dataclass(frozen=True)
class Docstring:
    summary: str
    parameters: tuple[Quantity, ...]
    returns: tuple[Quantity, ...]
    notes: str
    source: str
    example: str


def parsed(text: str) -> Docstring:
    """The sections of a docstring, the summary without its full stop; one that it lacks is ''.

    Example
    -------
    >>> found = parsed('''A power.
    ...
    ... Parameters
    ... ----------
    ... voltage_v : array_like [V]
    ...     Of one phase.
    ... ''')
    >>> found.summary, found.parameters[0].unit, found.parameters[0].words, found.notes
    ('A power', 'V', 'Of one phase.', '')
    """
    summary, *parts = SECTION.split(cleandoc(text).replace("``", ""))
    sections = dict(zip(parts[::2], parts[1::2], strict=True))
    return Docstring(
        summary=flowing(summary).rstrip("."),
        parameters=quantities(sections.get("Parameters", "")),
        returns=quantities(sections.get("Returns", "")),
        notes=flowing(sections.get("Notes", "")),
        source=flowing(sections.get("Source", "")),
        example=sections.get("Example", "").strip(),
    )


def flowing(text: str) -> str:
    """Without the breaks of the lines."""
    return " ".join(text.split())


def quantities(section: str) -> tuple[Quantity, ...]:
    """Each line at the edge, with the lines that are set in below it."""
    blocks = re.split(r"\n(?=\S)", section.strip())
    return tuple(quantity(*block.partition("\n")[::2]) for block in blocks if block)


def quantity(head: str, words: str) -> Quantity:
    found = HEAD.fullmatch(head)
    assert found is not None
    return Quantity(found["names"] or "", found["kind"], found["unit"] or "", flowing(words))
