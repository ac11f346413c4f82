"""A stored reading as text in a file, and back: what was written out reads in as it was."""

import re
from dataclasses import replace
from functools import lru_cache

from logbook.models.round import Mark, ReadingCode
from logbook.reading_text import Scale, TypedReading, read_typed
from logbook.reading_words import Shown

# The words of a file, the same in every language; the code keys of the round page are read too.
CODE_WORDS = {
    ReadingCode.NOT_RUNNING: "not running",
    ReadingCode.FAULTY: "meter faulty",
    ReadingCode.NOT_ACCESSIBLE: "not accessible",
    ReadingCode.NOT_READ: "not read",
}
CODES_BY_WORD = {word: str(code) for code, word in CODE_WORDS.items()}
CONFIRMED_SIGN = "="
PLAIN_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?")
# What a spreadsheet takes for the beginning of a formula, and the sign that stops it.
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "'")
GUARD = "'"


def cell_text(reading: Shown) -> str:
    """The text of a reading's cell: its number, what was typed, or the words of its code."""
    if reading.code in CODE_WORDS:
        return CODE_WORDS[ReadingCode(reading.code)]
    text = reading.text or f"{reading.bound}{exact(reading.value)}"
    return text + CONFIRMED_SIGN if reading.mark == Mark.CONFIRMED else text


def exact(value: float | None) -> str:
    """The shortest text that reads back as the same number."""
    if value is None:
        return ""
    return str(int(value)) if value.is_integer() else repr(value)


@lru_cache(maxsize=100_000)
def reading_of(text: str, scale: Scale | None) -> TypedReading:
    """The reading that a cell says; most cells of a file say what others said before."""
    if text in CODES_BY_WORD:
        return TypedReading(code=CODES_BY_WORD[text])
    return read_cell(text, scale)


def read_cell(text: str, scale: Scale | None) -> TypedReading:
    """The reading that was typed; a number with the sign of one read twice is confirmed."""
    cell = read_typed(text.removesuffix(CONFIRMED_SIGN), scale)
    if not text.endswith(CONFIRMED_SIGN):
        return cell
    return read_typed(text, scale) if cell.value is None else replace(cell, mark=Mark.CONFIRMED)


def guarded(text: str) -> str:
    """The text as a spreadsheet shows it, never as a formula; a plain number stays one."""
    if text.startswith(FORMULA_SIGNS) and not PLAIN_NUMBER.fullmatch(text):
        return GUARD + text
    return text


def unguarded(text: str) -> str:
    """The text before ``guarded``."""
    return text[1:] if text.startswith(GUARD) else text
