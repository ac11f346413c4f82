"""How a reading is shown: a number with its bound, or the words of its code."""

from typing import Protocol

from logbook.models.round import Mark, ReadingCode

CODE_LEVELS = {
    ReadingCode.NOT_RUNNING: "not-running",
    ReadingCode.FAULTY: "meter-faulty",
    ReadingCode.NOT_ACCESSIBLE: "not-accessible",
    ReadingCode.NOT_READ: "not-read",
    ReadingCode.TO_RE_READ: "to-re-read",
}
MARK_LEVELS = {Mark.DOUBTFUL: "doubtful", Mark.CONFIRMED: "confirmed"}


class Shown(Protocol):
    """What a reading and a typed cell have in common."""

    value: float | None
    code: str
    bound: str
    mark: str
    text: str


def number_text(value: float, decimals: int) -> str:
    """With the meter's decimals, or more where rounding would hide what was read."""
    plain = f"{value:.{decimals}f}"
    return plain if float(plain) == value else f"{value:.12g}"


def reading_words(reading: Shown, decimals: int) -> str:
    """The number with its bound, what was typed where it is no number, else '' (see level)."""
    if reading.code == ReadingCode.TO_RE_READ:
        return reading.text
    if reading.value is None:
        return ""
    return f"{reading.bound}{number_text(reading.value, decimals)}"
