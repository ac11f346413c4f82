"""Proving that the log is what was written: the chain, and what the chain does not cover.

The digests do not cover ``ended_by``, because it is filled later. What may fill it, and what may
bring a reading, is held here.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from django.apps import apps
from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext as _

from logbook.bodies import stored_bodies
from logbook.ledger import Body, Break, verify
from logbook.models import Correction, Entry, Reading, Signature, StateChange
from logbook.models.correction import Scope
from logbook.models.entry import EntryChild
from station.models import Station

WHOLE = (Scope.ANEW, Scope.VOID)
OF_ROUND = "round__entry__no"
"""Where a reading's row says the number of its entry."""


@dataclass
class Verified:
    """What was found in one station's log. ``head_digest`` is the digest of the last entry."""

    station: Station
    entries: int = 0
    head_digest: str = ""
    is_expected_found: bool = False
    breaks: list[Break] = field(default_factory=list)


def verify_station(station: Station, expected: str = "") -> Verified:
    """Every break of the log; ``expected`` is the beginning of a digest that must occur."""
    found = Verified(station)
    bodies = watched(stored_bodies(station), found, expected)
    found.breaks = [*verify(station, bodies), *broken_promises(station)]
    return found


def watched(
    bodies: Iterable[tuple[Entry, Body]], found: Verified, expected: str
) -> Iterator[tuple[Entry, Body]]:
    for entry, body in bodies:
        found.entries += 1
        found.head_digest = bytes(entry.digest).hex()
        if expected and found.head_digest.startswith(expected):
            found.is_expected_found = True
        yield entry, body


def broken_promises(station: Station) -> Iterator[Break]:
    """Entries and readings that count, or do not count, for no reason that was written; rows that
    stand elsewhere than their entry; signatures of another log."""
    yield from broken_ends(Entry.objects.filter(station=station))
    yield from broken_readings(Reading.objects.filter(station=station))
    yield from broken_places(station)
    yield from broken_signatures(station)


def broken_ends(entries: QuerySet[Entry]) -> Iterator[Break]:
    yield from breaks_at(
        wrongly_ended(entries), "no", _("entry %(no)s was ended by no correction of it")
    )
    yield from breaks_at(
        still_counting(entries), "no", _("entry %(no)s was corrected and counts again")
    )


def broken_readings(readings: QuerySet[Reading]) -> Iterator[Break]:
    yield from breaks_at(
        wrongly_ended_readings(readings),
        OF_ROUND,
        _("a reading of entry %(no)s was ended by no correction of it"),
    )
    yield from breaks_at(
        readings_still_counting(readings),
        OF_ROUND,
        _("a reading of entry %(no)s counts though its round does not"),
    )
    yield from breaks_at(
        wrongly_brought(readings),
        OF_ROUND,
        _("a reading of entry %(no)s was brought by no correction of it"),
    )


def broken_places(station: Station) -> Iterator[Break]:
    """Rows of another station than their entry's, or of another place or time."""
    for model in children():
        elsewhere = model.objects.filter(entry__station=station).exclude(station=station)
        sentence = _("entry %(no)s and what it says belong to two stations")
        yield from breaks_at(elsewhere, "entry__no", sentence)
    strangers = Reading.objects.filter(round__entry__station=station).exclude(station=station)
    yield from breaks_at(
        strangers, OF_ROUND, _("a reading of entry %(no)s belongs to another station")
    )
    yield from breaks_at(
        stated_elsewhere(StateChange.objects.filter(station=station)),
        "entry__no",
        _("the change of state of entry %(no)s stands at another place or time than its entry"),
    )


def broken_signatures(station: Station) -> Iterator[Break]:
    """Signatures whose entry no longer has the digest that was signed."""
    covered = Entry.objects.filter(station=station, no=OuterRef("up_to_no")).values("digest")[:1]
    rows = Signature.objects.filter(station=station).annotate(found=Subquery(covered))
    for row in rows.select_related("entry").order_by("entry__no"):
        if bytes(row.found or b"").hex() != row.digest:
            facts = {"no": row.entry.no, "up_to": row.up_to_no}
            sentence = _("the signature of entry %(no)s does not fit entry %(up_to)s")
            yield Break(row.entry.no, sentence % facts)


def breaks_at(rows: QuerySet, number: str, sentence: str) -> Iterator[Break]:
    for no in rows.order_by(number).values_list(number, flat=True).distinct():
        yield Break(no, sentence % {"no": no})


def wrongly_ended(entries: QuerySet[Entry]) -> QuerySet[Entry]:
    whole = Correction.objects.filter(
        entry=OuterRef("ended_by"), of=OuterRef("pk"), scope__in=WHOLE
    )
    return entries.filter(~Exists(whole), ended_by__isnull=False)


def still_counting(entries: QuerySet[Entry]) -> QuerySet[Entry]:
    whole = Correction.objects.filter(of=OuterRef("pk"), scope__in=WHOLE)
    return entries.filter(Exists(whole), ended_by__isnull=True)


def children() -> list[type[EntryChild]]:
    """The tables of the kinds."""
    models = apps.get_app_config("logbook").get_models()
    return [model for model in models if issubclass(model, EntryChild)]


def stated_elsewhere(states: QuerySet[StateChange]) -> QuerySet[StateChange]:
    same = Q(transmitter=F("entry__transmitter"), observed_at=F("entry__observed_at"))
    return states.exclude(same)


def wrongly_ended_readings(readings: QuerySet[Reading]) -> QuerySet[Reading]:
    """Neither by a correction of their round nor born ended with a duplicate."""
    correction = Correction.objects.filter(entry=OuterRef("ended_by"), of=OuterRef("round_id"))
    is_of_duplicate = Q(ended_by=F("round_id"), round__duplicate_of__isnull=False)
    return readings.filter(~Exists(correction), ended_by__isnull=False).exclude(is_of_duplicate)


def readings_still_counting(readings: QuerySet[Reading]) -> QuerySet[Reading]:
    is_ended = Q(round__entry__ended_by__isnull=False)
    is_of_duplicate = Q(round__duplicate_of__isnull=False, brought_by__isnull=True)
    return readings.current().filter(is_ended | is_of_duplicate)


def wrongly_brought(readings: QuerySet[Reading]) -> QuerySet[Reading]:
    correction = Correction.objects.filter(entry=OuterRef("brought_by"), of=OuterRef("round_id"))
    return readings.filter(~Exists(correction), brought_by__isnull=False)
