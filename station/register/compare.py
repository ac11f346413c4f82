"""What differs between a register file, the register, and the file when it was last taken."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from station.register.rows import Row
from station.register.stored import Stored

STATION = "station"
Values = Mapping[str, Any]


@dataclass(frozen=True)
class Change:
    """One value of a row that differs; ``row`` is None for the station itself."""

    place: str
    name: str
    before: Any
    after: Any
    row: Row | None = None

    def __str__(self) -> str:
        return f"{self.place}: {self.name} {self.before!r} -> {self.after!r}"


@dataclass
class Comparison:
    new: list[Row] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    edited_later: list[Change] = field(default_factory=list)
    removed_later: list[str] = field(default_factory=list)
    unchanged: int = 0

    @property
    def is_empty(self) -> bool:
        return not self.new and not self.changes

    @property
    def is_refused(self) -> bool:
        """Whether taking the file would undo what someone edited since it was last taken."""
        return bool(self.edited_later or self.removed_later)


def compare(rows: list[Row], register: Stored, last: Mapping[str, Values]) -> Comparison:
    found = Comparison()
    for row in rows:
        known = register.rows.get(row.place)
        if known is None:
            found.new.append(row)
            if row.place in last:
                found.removed_later.append(row.place)
            continue
        changes = differences(row.place, known.values, row.values, row)
        add_changes(found, changes, known.values, last.get(row.place, {}))
    written = {row.place for row in rows}
    found.gone = [place for place, row in register.rows.items() if is_gone(row, written)]
    return found


def add_changes(found: Comparison, changes: list[Change], known: Values, last: Values) -> None:
    found.changes += changes
    found.unchanged += not changes
    found.edited_later += [
        change
        for change in changes
        if change.name not in last or last[change.name] != known[change.name]
    ]


def differences(place: str, before: Values, after: Values, row: Row | None = None) -> list[Change]:
    return [
        Change(place, name, before[name], value, row)
        for name, value in after.items()
        if before[name] != value
    ]


def is_gone(row: Row, written: set[str]) -> bool:
    """A limit that was withdrawn is not missed in the file."""
    values = [row.values.get(name) for name in ("low_alarm", "low_warning")]
    values += [row.values.get(name) for name in ("high_warning", "high_alarm")]
    is_withdrawn = row.kind.name == "limit" and all(value is None for value in values)
    return row.place not in written and not is_withdrawn
