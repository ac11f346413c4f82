"""The chain: canonical form and digest of an entry, appending one, verifying all.

The digest of an entry covers its canonical form and the digest before it, so an entry that is
changed, dropped or slipped in breaks every digest after it. It cannot find a database owner who
computes the whole chain anew, except against a digest that was printed before.
"""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import QuerySet

from logbook.models import Entry, Kind, Source
from station.models import Person, Station, Transmitter
from station.prepared import Prepared

CANONICAL_VERSION = 2
"""2 covers ``payload_digest`` as well; entries of a log that was begun with 1 stay as they are."""
NOTHING_BEFORE = bytes(32)

Body = dict[str, Any]


@dataclass(frozen=True)
class Draft:
    """What an entry says before it has a number; ``sent`` is the digest of what the page sent."""

    kind: Kind
    station: Station
    transmitter: Transmitter | None
    observed_at: datetime
    entered_at: datetime
    by: Person
    body: Body
    source: Source = Source.PERSON
    client_key: str = ""
    sent: bytes | None = None
    in_place_of: Entry | None = None


def utc_text(instant: datetime) -> str:
    return instant.astimezone(UTC).isoformat()


def canonical(entry: Entry, body: Body, version: int = CANONICAL_VERSION) -> bytes:
    """The entry as stable bytes: codes instead of ids, exact floats, UTC, without ``ended_by``."""
    sent = {"sent": bytes(entry.payload_digest or b"").hex()} if version > 1 else {}
    form = {
        **sent,
        "version": version,
        "station": entry.station.code,
        "no": entry.no,
        "kind": entry.kind,
        "transmitter": entry.transmitter.code if entry.transmitter else None,
        "observed_at": utc_text(entry.observed_at),
        "entered_at": utc_text(entry.entered_at),
        "by": entry.by.username,
        "name": entry.name_as_written,
        "source": entry.source,
        "client_key": entry.client_key,
        "in_place_of": entry.in_place_of.no if entry.in_place_of else None,
        "body": body,
    }
    return json.dumps(form, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def chained(before: bytes, form: bytes) -> bytes:
    return hashlib.sha256(before + form).digest()


def payload_digest(body: Body) -> bytes:
    """Digest of what was typed, to tell a second sending from a second, different value."""
    return hashlib.sha256(json.dumps(body, sort_keys=True, default=str).encode()).digest()


def lock(station: Station) -> None:
    """Hold the station's row until the transaction ends; SQLite already holds the file."""
    if connection.features.has_select_for_update:
        Station.objects.select_for_update().values_list("pk").get(pk=station.pk)


class Head(NamedTuple):
    """The last entry of a station's chain."""

    no: int
    digest: bytes


def last_entry(station_id: int) -> QuerySet[Entry]:
    entries = Entry.objects.filter(station=station_id).order_by("-no")
    return entries.values_list("no", "digest")[:1]


LAST_ENTRY = Prepared(last_entry, int)


def head(station: Station) -> Head | None:
    found = LAST_ENTRY.rows(station.pk)
    return Head(found[0][0], bytes(found[0][1])) if found else None


def numbered(draft: Draft, no: int, before: bytes) -> Entry:
    """The unsaved entry for ``draft`` with its number and digest."""
    entry = Entry(
        station=draft.station,
        no=no,
        transmitter=draft.transmitter,
        kind=draft.kind,
        observed_at=draft.observed_at.replace(microsecond=0),
        entered_at=draft.entered_at,
        by=draft.by,
        name_as_written=draft.by.written_name,
        source=draft.source,
        client_key=draft.client_key,
        payload_digest=draft.sent,
        in_place_of=draft.in_place_of,
    )
    entry.digest = chained(before, canonical(entry, draft.body))
    return entry


def append(draft: Draft) -> Entry:
    """Write the station's next entry; the caller holds the station's lock, and its transaction
    also writes the kind's own row.
    """
    last = head(draft.station)
    entry = numbered(draft, last.no + 1 if last else 1, last.digest if last else NOTHING_BEFORE)
    entry.save(force_insert=True)
    return entry


@dataclass(frozen=True)
class Break:
    """A place where the log is not what was written."""

    no: int
    why: str


def is_as_written(before: bytes, entry: Entry, body: Body) -> bool:
    versions = range(CANONICAL_VERSION, 0, -1)
    digest = bytes(entry.digest)
    return any(chained(before, canonical(entry, body, one)) == digest for one in versions)


def verify(station: Station, bodies: Iterator[tuple[Entry, Body]]) -> Iterator[Break]:
    """Every break of the chain, given all entries in order with their bodies read anew."""
    before, expected = NOTHING_BEFORE, 1
    for entry, body in bodies:
        if entry.no != expected:
            yield Break(expected, f"entry {expected} is missing")
        if not is_as_written(before, entry, body):
            yield Break(entry.no, f"entry {entry.no} is not what was written")
        before, expected = bytes(entry.digest), entry.no + 1
