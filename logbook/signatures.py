"""Who signed what, and what was written about it after that."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from logbook.models import Entry, Signature, SignatureScope
from station.models import Station, Transmitter


@dataclass(frozen=True)
class Signer:
    """One writer of a sheet. ``signature`` is their last; ``after`` their entries past it, or all
    of them while there is none.
    """

    person_id: int
    name: str
    signature: Signature | None
    after: tuple[int, ...]


def signatures_of(
    station: Station, scope: SignatureScope, day: date, transmitter: Transmitter | None
) -> list[Signature]:
    """Those that stand, the oldest first."""
    rows = Signature.objects.filter(
        station=station,
        scope=scope,
        day=day,
        entry__transmitter=transmitter,
        entry__ended_by__isnull=True,
    )
    return list(rows.select_related("entry").order_by("entry__no"))


def signers(entries: Iterable[Entry], signatures: Iterable[Signature]) -> tuple[Signer, ...]:
    """Everybody who wrote on the sheet, each for their own entries alone."""
    last = {row.entry.by_id: row for row in signatures}
    wrote: dict[int, list[Entry]] = {}
    for entry in sorted(entries, key=lambda one: one.no):
        wrote.setdefault(entry.by_id, []).append(entry)
    return tuple(
        Signer(
            person_id=person,
            name=own[-1].name_as_written,
            signature=last.get(person),
            after=tuple(entry.no for entry in own if entry.no > up_to(last.get(person))),
        )
        for person, own in wrote.items()
    )


def up_to(signature: Signature | None) -> int:
    return signature.up_to_no if signature else 0
