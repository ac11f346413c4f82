"""Taking a file into the log: good lines in one transaction, refused ones told, each once only."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

from django.utils.translation import gettext as _

from logbook.importing.faults import Refused, Report, Unreadable
from logbook.importing.file import Line, lines_of, opened
from logbook.importing.heading import heading_of
from logbook.importing.rounds import Plant, ReadRound, RoundReader
from logbook.importing.state_log import StateLog
from logbook.inserts import ReadingRow
from logbook.ledger import payload_digest
from logbook.models import ReadingCode, Round, RoundKind, Source
from logbook.services.bulk import Past, past_round, past_state, write_past
from logbook.services.rounds import payload_of
from logbook.services.states import StateDraft
from station.batches import batched
from station.models import Station

ROUNDS_AT_ONCE = 1000

Progress = Callable[[float], None]
Key = tuple[int, datetime, str]


def import_file(
    path: Path,
    station: Station,
    *,
    at: datetime,
    is_dry_run: bool = False,
    source: Source = Source.IMPORT,
    progress: Progress = lambda share: None,
) -> Report:
    """Take every good line of a file; the report says what became of the others.

    With the source LOGGER the rounds are what an instrument link read: nobody corrects them.

    Raises
    ------
    Unreadable
        Where the file as a whole cannot be taken; nothing is written then.
    """
    with opened(path) as file:
        lines = lines_of(file, path.stat().st_size, progress)
        taking = Taking(lines, station, at, source)
        if is_dry_run:
            for _past in taking.past():
                pass
        else:
            write_past(station, taking.past())
    return taking.report


class Taking:
    """One pass over a file: lines gathered to rounds, rounds held against the log."""

    def __init__(
        self, lines: Iterator[Line], station: Station, at: datetime, source: Source
    ) -> None:
        self.station, self.at, self.lines, self.source = station, at, lines, source
        self.plant = Plant(station)
        heading = next(lines, None)
        if heading is None:
            raise Unreadable(_("The file is empty."))
        self.heading = heading_of(heading.cells, list(self.plant.all_meters()))
        self.reader = RoundReader(self.heading, self.plant, at)
        self.report = Report()
        self.state_logs: dict[int, StateLog] = {}
        self.latest: dict[int, datetime] = {}
        self.held: dict[Key, tuple[int, bytes]] = {}
        self.taken: dict[Key, bytes] = {}

    def past(self) -> Iterator[Past]:
        """What is to be written, in the order of the file."""
        for rows in batched(self.rounds(), ROUNDS_AT_ONCE):
            self.held = held_rounds(self.station, rows)
            for row in rows:
                try:
                    yield from self.taken_from(row)
                except Refused as refused:
                    self.report.refuse(row.line, refused)

    def rounds(self) -> Iterator[ReadRound]:
        """The rounds of the file: a line each, or the lines of one round in a long file."""
        open_round: ReadRound | None = None
        for line in self.lines:
            try:
                row = self.reader.round(line)
                readings = list(self.reader.readings(line, row))
            except Refused as refused:
                self.report.refuse(line.no, refused)
                continue
            if open_round is None or not is_one_round(open_round, row):
                if open_round is not None:
                    yield open_round
                open_round = row
            self.gather(open_round, line, readings)
            if not self.heading.is_long:
                yield open_round
                open_round = None
        if open_round is not None:
            yield open_round

    def gather(self, row: ReadRound, line: Line, readings: Iterable[ReadingRow]) -> None:
        """Put a line's readings into its round; the same one a second time counts once."""
        for reading in readings:
            code = reading.meter.code
            known = row.readings.setdefault(code, reading)
            if known is reading:
                continue
            if known == reading:
                self.report.repeated += 1
            else:
                reason = _("says another value for %(meter)s in the same round")
                self.report.refuse(line.no, Refused("value", reason % {"meter": code}))

    def taken_from(self, row: ReadRound) -> Iterator[Past]:
        """The entries of one round, unless the log holds it.

        Raises
        ------
        Refused
        """
        self.refuse_disorder(row)
        readings = list(row.readings.values())
        said = payload_of(row.transmitter, row.slot, row.kind, row.modulation, readings)
        digest = payload_digest(said)
        if self.is_known(row, digest):
            return
        log = self.state_log(row)
        log.go_to(row.observed_at)
        differences = log.differences(row.point)
        if differences:
            log.take(differences)
            self.report.states += 1
            yield self.past_state(row, differences)
        self.count(row)
        yield past_round(
            row.transmitter,
            readings,
            slot=row.slot,
            observed_at=row.observed_at,
            modulation=row.modulation,
            kind=row.kind,
            by=row.observer,
            at=self.at,
            source=self.source,
            sent=digest,
        )

    def state_log(self, row: ReadRound) -> StateLog:
        key = row.transmitter.pk
        if key not in self.state_logs:
            self.state_logs[key] = StateLog(row.transmitter, row.observed_at)
        return self.state_logs[key]

    def refuse_disorder(self, row: ReadRound) -> None:
        before = self.latest.get(row.transmitter.pk)
        if before and row.observed_at < before:
            reason = _("is earlier than a line before it: sort the file by time")
            raise Refused("observed_at", reason, f"{row.observed_at:%Y-%m-%dT%H:%MZ}")
        self.latest[row.transmitter.pk] = row.observed_at

    def is_known(self, row: ReadRound, digest: bytes) -> bool:
        """Whether this file or the log said the same before.

        Raises
        ------
        Refused
            Where another round holds the slot.
        """
        key = key_of(row.transmitter.pk, row.slot, row.kind, row.observed_at)
        if key in self.taken:
            if self.taken[key] != digest:
                raise Refused("slot", _("was said otherwise by a line before it"), slot_of(row))
            self.report.repeated += 1
            return True
        if key in self.held:
            no, known = self.held[key]
            if known != digest:
                reason = _("is held by entry %(no)s of the log, which says otherwise")
                raise Refused("slot", reason % {"no": no}, slot_of(row))
            self.report.known += 1
            return True
        self.taken[key] = digest
        return False

    def past_state(self, row: ReadRound, differences: dict) -> Past:
        antenna = differences.get("antenna")
        draft = StateDraft(
            transmitter=row.transmitter,
            observed_at=row.observed_at,
            state=differences.get("state", ""),
            frequency_khz=differences.get("frequency_khz"),
            antenna=self.plant.antennas[antenna] if antenna else None,
            power_kw=differences.get("power_kw"),
        )
        return past_state(draft, by=row.observer, at=self.at, source=self.source)

    def count(self, row: ReadRound) -> None:
        self.report.rounds += 1
        self.report.readings += len(row.readings)
        self.report.to_re_read += sum(
            reading.code == ReadingCode.TO_RE_READ for reading in row.readings.values()
        )


def is_one_round(row: ReadRound, other: ReadRound) -> bool:
    return (row.transmitter, row.observed_at, row.slot, row.kind) == (
        other.transmitter,
        other.observed_at,
        other.slot,
        other.kind,
    )


def held_rounds(station: Station, rows: Sequence[ReadRound]) -> dict[Key, tuple[int, bytes]]:
    """The rounds that stand in the slots of these: entry number and digest of what was typed."""
    slots = [row.slot for row in rows]
    standing = Round.objects.filter(
        station=station,
        slot__gte=min(slots),
        slot__lte=max(slots),
        duplicate_of=None,
        entry__ended_by=None,
    )
    columns = ("entry__transmitter", "slot", "kind", "entry__observed_at", "entry__no")
    found = {}
    for key, slot, kind, at, no, digest in standing.values_list(
        *columns, "entry__payload_digest"
    ).iterator():
        found[key_of(key, slot, kind, at)] = (no, bytes(digest or b""))
    return found


def key_of(transmitter: int, slot: datetime, kind: str, observed_at: datetime) -> Key:
    """What there is one round of: a slot, or for a round that is not routine its instant."""
    return transmitter, slot if kind == RoundKind.ROUTINE else observed_at, kind


def slot_of(row: ReadRound) -> str:
    return f"{row.transmitter.code} {row.slot:%Y-%m-%dT%H:%MZ}"
