"""The report of a month's interruptions, for the file: each with its begin, end, length, facts."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from logbook.interruptions import Loss, losses
from logbook.ledger import Head, head
from logbook.words import entry_words, short_digest
from station.models import Station


@dataclass(frozen=True)
class ReportLine:
    """``seconds`` is None while it is open; ``ends`` is what was found and done."""

    loss: Loss
    words: str
    ends: str
    seconds: int | None


@dataclass(frozen=True)
class InterruptionReport:
    station: Station
    since: datetime
    until: datetime
    made_at: datetime
    lines: tuple[ReportLine, ...]
    head: Head | None

    @property
    def digest(self) -> str:
        return short_digest(self.head.digest) if self.head else ""


def interruption_report(
    station: Station, since: datetime, until: datetime, made_at: datetime
) -> InterruptionReport:
    """Those that touch since <= t < until, each at its whole length."""
    lines = tuple(report_lines(losses(station, since, until)))
    return InterruptionReport(station, since, until, made_at, lines, head(station))


def report_lines(found: Iterable[Loss]) -> Iterable[ReportLine]:
    for loss in found:
        ends = [one.entry for one in loss.entry.restorations.all()]
        yield ReportLine(
            loss=loss,
            words=entry_words(loss.entry),
            ends="; ".join(entry_words(entry) for entry in ends),
            seconds=None if loss.length is None else int(loss.length.total_seconds()),
        )
