"""The port by which the log asks for a word from the analysis, and never depends on it.

Nothing stands behind it until an app names its module with ``provide``. Every call goes through
one guard: it runs beside the request within a time budget, and whatever goes wrong is logged and
answered with None, which the pages show as 'judging not available'.
"""

import logging
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from importlib import import_module
from threading import Thread
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.db import connections

if TYPE_CHECKING:
    from datetime import datetime

    from logbook.models import Entry
    from station.limits import LimitBook
    from station.models import Transmitter

log = logging.getLogger(__name__)

_provider: str | None = None


def provide(module: str) -> None:
    """Name the module that answers; it is imported at the first call, inside the guard."""
    global _provider
    _provider = module


@contextmanager
def silent() -> Iterator[None]:
    """Nothing is asked or told inside: for bulk work that is judged in one go afterwards."""
    global _provider
    kept, _provider = _provider, None
    try:
        yield
    finally:
        _provider = kept


def is_provided() -> bool:
    return _provider is not None


def hints(book: "LimitBook", at: "datetime") -> Any:
    """What each meter of a book's transmitter should read, by code, or None: ``value``, ``sigma``
    and ``reach``, how far from it a value is asked about."""
    return guarded("hints", book, at)


def second_look(draft: Any) -> Any:
    """Questions about values that look like slips, or None."""
    return guarded("second_look", draft)


def remarks(transmitter: "Transmitter", since: "datetime", until: "datetime") -> Any:
    """The flags of a span for the sheet, or None."""
    return guarded("remarks", transmitter, since, until)


def changed(entry: "Entry") -> Any:
    """Tell that an entry was committed; True when it was judged within the budget."""
    return guarded("changed", entry)


def guarded(question: str, *arguments: Any) -> Any:
    if _provider is None:
        return None
    try:
        return run_within_budget(lambda: answer(question, *arguments))
    except TimeoutError:
        log.warning("%s took longer than %s ms", question, settings.JUDGE_BUDGET_MS)
    except Exception:
        log.exception("%s failed", question)
    return None


def answer(question: str, *arguments: Any) -> Any:
    assert _provider is not None
    function = getattr(import_module(_provider), question, None)
    return function(*arguments) if function else None


def run_within_budget(work: Callable[[], Any]) -> Any:
    """Run ``work`` in a thread of its own with its own connection; TimeoutError past the budget."""
    future: Future[Any] = Future()
    Thread(target=run_beside, args=(work, future), daemon=True).start()
    return future.result(timeout=settings.JUDGE_BUDGET_MS / 1000)


def run_beside(work: Callable[[], Any], future: "Future[Any]") -> None:
    try:
        future.set_result(work())
    except Exception as failure:
        future.set_exception(failure)
    except SystemExit as failure:
        future.set_exception(RuntimeError(f"the judge called exit: {failure}"))
    finally:
        connections.close_all()
