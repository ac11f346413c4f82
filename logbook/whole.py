"""Entries with the rows of their kinds: one query for each kind that occurs among them.

A join over the tables of all kinds would be one of fifty tables, which no database plans well.
"""

from collections.abc import Iterable, Iterator, Sequence

from django.db.models import Model, Prefetch, QuerySet, prefetch_related_objects

from logbook.models import (
    CheckMade,
    Correction,
    DutyTaken,
    Entry,
    FlagAction,
    Handover,
    Hold,
    Interruption,
    Kind,
    MeterChange,
    Permit,
    PermitReturn,
    Release,
    Remark,
    Restoration,
    Round,
    Signature,
    StateChange,
    TubeMove,
    WaveChange,
    WeekDecision,
)
from station.batches import batched

ENTRIES_AT_ONCE = 500

# Kind -> its table, and what is read with a row of it.
OF_KIND: dict[str, tuple[type[Model], tuple[str, ...]]] = {
    Kind.ROUND: (Round, ("duplicate_of__entry",)),
    Kind.STATE: (StateChange, ("antenna", "coil_set")),
    Kind.CORRECTION: (Correction, ("of",)),
    Kind.REMARK: (Remark, ("about",)),
    Kind.FLAG: (FlagAction, ("meter",)),
    Kind.TUBE: (
        TubeMove,
        (
            "tube__tube_type",
            "from_socket__stage__transmitter",
            "to_socket__stage__transmitter",
        ),
    ),
    Kind.METER: (MeterChange, ("meter",)),
    Kind.WAVE: (WaveChange, ("began", "as_found", "as_left")),
    Kind.CHECK: (CheckMade, ("before", "after")),
    Kind.INTERRUPTION: (Interruption, ("part_of",)),
    Kind.RESTORED: (Restoration, ("of",)),
    Kind.PERMIT: (Permit, ("antenna",)),
    Kind.RETURNED: (PermitReturn, ("of",)),
    Kind.HANDOVER: (Handover, ()),
    Kind.DUTY: (DutyTaken, ("of",)),
    Kind.SIGNED: (Signature, ()),
    Kind.HOLD: (Hold, ()),
    Kind.RELEASED: (Release, ("of",)),
    Kind.DECISION: (WeekDecision, ()),
}


def with_kinds(entries: Iterable[Entry]) -> list[Entry]:
    """The same entries, each with the row of its kind, if that is there."""
    found = list(entries)
    for kind in {entry.kind for entry in found} & set(OF_KIND):
        model, paths = OF_KIND[kind]
        rows = model.objects.select_related(*paths) if paths else model.objects.all()
        own = [entry for entry in found if entry.kind == kind]
        prefetch_related_objects(own, Prefetch(model.__name__.lower(), rows))
    return found


def in_chunks(rows: QuerySet[Entry]) -> Iterator[Sequence[Entry]]:
    """A long queryset's entries with their kinds, some at a time."""
    for chunk in batched(rows.iterator(chunk_size=ENTRIES_AT_ONCE), ENTRIES_AT_ONCE):
        yield with_kinds(chunk)
