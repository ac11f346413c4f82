"""What a rule says: an episode from the reading that began it to the one that ended it."""

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Episode:
    """A flag. ``rule``, ``meter_id`` and ``first_no`` are its natural key."""

    rule: str
    meter_id: int
    first_no: int
    since: int
    until: int | None
    priority: str
    evidence: dict[str, Any] = field(default_factory=dict)

    @property
    def key(self) -> tuple[str, int, int]:
        return (self.rule, self.meter_id, self.first_no)
