"""What every write of the log shares: saved once, committed, logged, told to the analysis."""

import logging
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection
from django.db.transaction import atomic, on_commit

from logbook import port
from logbook.ledger import Body, lock, payload_digest
from logbook.models import Entry
from station.models import Person, Station

log = logging.getLogger(__name__)


def saved_before(station: Station, by: Person, client_key: str) -> Entry | None:
    """The entry that this person's page saved before under this key."""
    if not client_key:
        return None
    return Entry.objects.filter(station=station, by=by, client_key=client_key).first()


def says_the_same(known: Entry, payload: Body) -> bool:
    return bytes(known.payload_digest or b"") == payload_digest(payload)


class StatementCounter:
    """Counts the statements of one save, for its log line."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, execute: Callable[..., Any], *arguments: Any) -> Any:
        self.count += 1
        return execute(*arguments)


@contextmanager
def one_save(what: str, station: Station) -> Iterator[list[Entry]]:
    """One transaction under the station's lock; the caller puts what it wrote into the list.

    After the commit each entry has its log line and is told to the analysis, which has its own
    time budget.
    """
    counter, started = StatementCounter(), time.perf_counter()
    written: list[Entry] = []
    with connection.execute_wrapper(counter), atomic():
        lock(station)
        yield written
    milliseconds = (time.perf_counter() - started) * 1000
    for entry in written:
        on_commit(lambda entry=entry: port.changed(entry))
        log.info(
            "%s saved: entry %s, %.0f ms, %s statements",
            what,
            entry.no,
            milliseconds,
            counter.count,
        )
