"""The operating point while lines are read in order of time, and what a line says of it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext as _

from logbook.importing.faults import Refused
from logbook.models import Entry, Kind, Source
from logbook.times import minute_of
from station.models import Transmitter

STATED = {
    "state": "statechange__state",
    "frequency_khz": "statechange__frequency_khz",
    "antenna": "statechange__antenna__code",
    "power_kw": "statechange__power_kw",
}
NAMES = tuple(STATED.values())
Value = str | float


@dataclass(frozen=True)
class Statement:
    """What a change of state said of one column; ``by_person`` may not be contradicted."""

    value: Value
    no: int
    is_by_person: bool


class StateLog:
    """One transmitter's point: what stands in the log, and what this file added."""

    def __init__(self, transmitter: Transmitter, since: datetime) -> None:
        self.stands: dict[str, Statement] = {}
        self.coming = changes_from(transmitter, since)[::-1]

    def go_to(self, at: datetime) -> None:
        """Take in what was written of the time up to the minute of ``at``."""
        while self.coming and minute_of(self.coming[-1][0]) <= minute_of(at):
            _at, no, source, *values = self.coming.pop()
            for column, value in zip(STATED, values, strict=True):
                if value not in {None, ""}:
                    is_by_person = source in {Source.PERSON, Source.PAPER}
                    self.stands[column] = Statement(value, no, is_by_person)

    def differences(self, said: Iterable[tuple[str, Value]]) -> dict[str, Value]:
        """Which columns a line says otherwise than they stand.

        Raises
        ------
        Refused
            Where a person wrote otherwise.
        """
        found = {}
        for column, value in said:
            stands = self.stands.get(column)
            if stands and stands.value == value:
                continue
            if stands and stands.is_by_person:
                reason = _("entry %(no)s of the log, which a person wrote, says %(value)s") % {
                    "no": stands.no,
                    "value": f"{stands.value:g}"
                    if isinstance(stands.value, float)
                    else stands.value,
                }
                raise Refused(column, reason, str(value))
            found[column] = value
        return found

    def take(self, values: dict[str, Value]) -> None:
        for column, value in values.items():
            self.stands[column] = Statement(value, 0, is_by_person=False)


def changes_from(transmitter: Transmitter, since: datetime) -> list[tuple[Any, ...]]:
    """The changes from an instant on, after those that last stated each column before it."""
    current = Entry.objects.current().filter(transmitter=transmitter, kind=Kind.STATE)
    before = current.filter(observed_at__lt=since).order_by("-observed_at", "-no")
    stated = [before.exclude(**{f"{name}__isnull": True}).exclude(**blank(name)) for name in NAMES]
    last = {entry.pk for one in stated for entry in one[:1]}
    wanted = current.filter(Q(pk__in=last) | Q(observed_at__gte=since))
    ordered = wanted.order_by("observed_at", "no")
    return list(ordered.values_list("observed_at", "no", "source", *NAMES))


def blank(name: str) -> dict[str, str]:
    """What a column says that did not change; a number is null then, and never ''."""
    return {} if name.endswith(("_khz", "_kw")) else {name: ""}
