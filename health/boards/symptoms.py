"""What a transmitter's flags are consistent with, in words."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from health.models import SymptomMatch
from health.rules.symptoms import NO_MATCH
from health.symptom_words import INSIDE, SIGN_WORDS, TEXTS
from health.symptoms import newest_matches
from logbook.times import instant_of
from station.models import Transmitter


@dataclass(frozen=True)
class SymptomLine:
    """One row of the table. ``share``: its score in per cent, 0 without one; ``hazards`` beside
    what is always so inside a set."""

    id: str
    part: str
    share: int
    pattern: Promise
    causes: Promise
    check: Promise
    is_inside: bool
    hazards: tuple[Promise, ...]

    @property
    def title(self) -> str:
        return f"{self.pattern} ({self.part})" if self.part else str(self.pattern)


@dataclass(frozen=True)
class Symptoms:
    """``lines``: the likeliest first, or the nearest where none ``is_match``; ``signs``: what
    stands out most."""

    day: int
    at: datetime
    is_match: bool
    lines: tuple[SymptomLine, ...]
    signs: tuple[str, ...]

    @property
    def is_alone(self) -> bool:
        """Whether one sign alone has moved: then it is the meter that is looked at first."""
        return len(self.signs) == 1

    @property
    def first(self) -> SymptomLine | None:
        return self.lines[0] if self.is_match else None


SHOWN_FROM = 0.6
"""Signs smaller than this part of what a flag wants are not told."""


def symptoms_of(match: SymptomMatch) -> Symptoms:
    names = [name for name, _score, _part in match.ranked]
    return Symptoms(
        day=match.day,
        at=instant_of(match.minute),
        is_match=NO_MATCH not in names,
        lines=tuple(line_of(*one) for one in match.ranked if one[0] != NO_MATCH),
        signs=tuple(sign_words(match)),
    )


def symptom_words(line: SymptomLine) -> str:
    """'Consistent with: flow of a loop down ... (raw)'."""
    return _("Consistent with: %(title)s") % {"title": line.title}


def newest_symptoms(transmitters: Iterable[Transmitter]) -> dict[int, Symptoms]:
    """By transmitter those of the newest day on which a flag stood."""
    return {one.transmitter_id: symptoms_of(one) for one in newest_matches(transmitters)}


def all_lines() -> list[SymptomLine]:
    return [line_of(name) for name in TEXTS]


def line_of(name: str, score: float = 0, part: str = "") -> SymptomLine:
    text = TEXTS[name]
    return SymptomLine(
        id=name,
        part=part.replace("_", " "),
        share=round(100 * score),
        pattern=text.pattern,
        causes=text.causes,
        check=text.check,
        is_inside=name in INSIDE,
        hazards=tuple(one.value for one in text.hazards),
    )


def sign_words(match: SymptomMatch) -> Iterator[str]:
    """'raw: flow down, 1.4 times what a flag wants'."""
    for name, part, size in match.signs:
        if abs(size) >= SHOWN_FROM:
            values = {"name": SIGN_WORDS[name], "size": abs(size)}
            words = (
                _("%(name)s up, %(size).1f times what a flag wants")
                if size > 0
                else _("%(name)s down, %(size).1f times what a flag wants")
            )
            yield f"{part.replace('_', ' ')}: {words % values}" if part else words % values
