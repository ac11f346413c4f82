"""What a person typed in a reading's cell, turned into a reading or a question.

Numeric pad alone suffices: ``/`` not running, ``*`` meter faulty, ``-`` not accessible, ``+`` not
read; ``40+`` off scale above 40, ``0.2-`` below 0.2, ``28*`` doubtful. On a full keyboard
``>40``, ``<0.2`` and ``28?`` say the same.
"""

import re
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.utils.translation import gettext as _

from logbook.models.round import Bound, Mark, ReadingCode

CODE_KEYS = {
    "/": ReadingCode.NOT_RUNNING,
    "*": ReadingCode.FAULTY,
    "-": ReadingCode.NOT_ACCESSIBLE,
    "+": ReadingCode.NOT_READ,
}
BOUND_SIGNS = {">": Bound.ABOVE, "<": Bound.BELOW, "+": Bound.ABOVE, "-": Bound.BELOW}
NUMBER = re.compile(
    r"(?P<before>[<>~]?)\s*(?P<number>[-\N{MINUS SIGN}\N{EN DASH}]?\d+(?:[.,]\d+)?|[.,]\d+)"
    r"\s*(?P<unit>[^\d\s<>~?*+-]*(?:/[a-zA-Z]+)?)\s*(?P<after>[-+?*]?)",
    re.ASCII,
)
LONGEST_TEXT = 40


class Scale(NamedTuple):
    """The scale of the instrument on which a meter is read."""

    low: float
    full: float
    unit: str


@dataclass(frozen=True)
class TypedReading:
    """A cell as the log keeps it. ``problem`` is a sentence for the person, '' when all is well."""

    value: float | None = None
    code: str = ""
    bound: str = ""
    mark: str = ""
    text: str = ""
    problem: str = ""

    @property
    def is_blank(self) -> bool:
        return self.value is None and not self.code

    def columns(self) -> dict[str, Any]:
        """The columns of the reading's row."""
        return {
            "value": self.value,
            "code": self.code,
            "bound": self.bound,
            "mark": self.mark,
            "text": self.text,
        }


def to_re_read(text: str, problem: str) -> TypedReading:
    """The typed text kept as it is, with a sentence; no number is invented."""
    return TypedReading(code=ReadingCode.TO_RE_READ, text=text[:LONGEST_TEXT], problem=problem)


def read_typed(text: str, scale: Scale | None) -> TypedReading:
    """The reading that ``text`` says, judged against the instrument's scale.

    A blank cell is no reading. What cannot be a number of this meter is kept as text 'to be
    re-read'. The typed text is kept beside the number where the number alone does not say it.
    """
    typed = text.strip()
    if not typed:
        return TypedReading()
    if typed in CODE_KEYS:
        return TypedReading(code=CODE_KEYS[typed])
    match = NUMBER.fullmatch(typed)
    if not match:
        return to_re_read(typed, not_a_number(typed))
    unit = match["unit"]
    if unit and (scale is None or unit.casefold() != scale.unit.casefold()):
        return to_re_read(typed, wrong_unit(typed, scale))
    return judged_by_scale(typed, match, scale)


def judged_by_scale(typed: str, match: re.Match[str], scale: Scale | None) -> TypedReading:
    value = number_of(match["number"])
    bound = BOUND_SIGNS.get(match["before"]) or BOUND_SIGNS.get(match["after"]) or ""
    is_doubtful = match["before"] == "~" or match["after"] in {"?", "*"}
    if scale and not bound and not scale.low <= value <= scale.full:
        return to_re_read(typed, off_scale(typed, scale))
    return TypedReading(
        value=value,
        bound=bound,
        mark=Mark.DOUBTFUL if is_doubtful else "",
        text=typed[:LONGEST_TEXT] if typed != match["number"] else "",
    )


def number_of(text: str) -> float:
    plain = text.replace(",", ".").replace("\N{MINUS SIGN}", "-").replace("\N{EN DASH}", "-")
    return float(plain) or 0.0  # no minus zero, which SQLite does not give back


def not_a_number(typed: str) -> str:
    return _(
        "'%(typed)s' is not a number. It is kept as typed, to be re-read: write digits with one "
        "comma or point, or a code key."
    ) % {"typed": typed[:LONGEST_TEXT]}


def wrong_unit(typed: str, scale: Scale | None) -> str:
    if scale is None:
        return not_a_number(typed)
    return _(
        "'%(typed)s' is not in %(unit)s. It is kept as typed, to be re-read: write the number in "
        "%(unit)s."
    ) % {"typed": typed, "unit": scale.unit}


def off_scale(typed: str, scale: Scale) -> str:
    return _(
        "%(typed)s is outside the scale %(low)g to %(full)g %(unit)s. It is kept as typed, to be "
        "re-read: correct it, or write >%(full)g if the pointer is beyond the scale."
    ) % {"typed": typed, "low": scale.low, "full": scale.full, "unit": scale.unit}
