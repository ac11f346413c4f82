"""What is wrong with a file, or with a line of it."""

from collections import Counter
from dataclasses import asdict, dataclass, field
from typing import Any

SHOWN = 20


class Unreadable(Exception):
    """The file as a whole cannot be taken; the sentence says why and what to do."""


class Refused(Exception):
    """A line that is not taken: in which column, why, and the text that stands there."""

    def __init__(self, column: str, reason: str, text: str = "") -> None:
        self.column, self.reason, self.text = column, reason, text
        super().__init__(reason)


@dataclass(frozen=True)
class Fault:
    line: int
    column: str
    reason: str
    text: str

    def __str__(self) -> str:
        said = f" '{self.text}'" if self.text else ""
        return f"line {self.line}, {self.column}{said}: {self.reason}"


@dataclass
class Report:
    """What became of a file. ``known`` rounds were in the log already, word for word."""

    rounds: int = 0
    readings: int = 0
    states: int = 0
    to_re_read: int = 0
    known: int = 0
    repeated: int = 0
    faults: list[Fault] = field(default_factory=list)

    def refuse(self, line: int, refused: Refused) -> None:
        self.faults.append(Fault(line, refused.column, refused.reason, refused.text[:40]))

    def as_json(self) -> dict[str, Any]:
        return asdict(self)

    def fault_lines(self) -> list[str]:
        """The first faults each with its line; the rest counted by column and reason."""
        shown = [str(fault) for fault in self.faults[:SHOWN]]
        rest = Counter((fault.column, fault.reason) for fault in self.faults[SHOWN:])
        more = [f"{count} more lines, {column}: {why}" for (column, why), count in rest.items()]
        return shown + more[:SHOWN]
