"""A schedule out of a CSV file: every line read or refused with its reason, nothing guessed."""

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from django.utils.translation import gettext as _

from station.broadcasts import DAY_MIN, overlaps
from station.models import Antenna, ScheduleLine, Station, Transmitter
from station.register.faults import not_among

NEEDED = ("transmitter", "frequency_khz", "start", "stop", "days")
MAY_BE = (
    *("antenna", "power_kw", "azimuth_deg", "slew_deg", "zones", "modulation", "service"),
    *("valid_from", "valid_until", "identifier"),
)
DELIMITERS = ";\t,"
SHORT_WAVE_KHZ = (100.0, 30_000.0)
SIX_DIGITS = {"dmy": "%d%m%y", "ymd": "%y%m%d"}


class BadCell(Exception):
    """What is wrong with one cell, in a sentence that says what to do."""


@dataclass(frozen=True)
class LineFault:
    number: int
    column: str
    sentence: str

    def __str__(self) -> str:
        place = _("line %(n)s") % {"n": self.number}
        return (
            f"{place}, {self.column}: {self.sentence}"
            if self.column
            else (f"{place}: {self.sentence}")
        )


@dataclass
class ReadSchedule:
    """``lines`` are unsaved rows without a version, in the order of the file."""

    lines: list[ScheduleLine] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    faults: list[LineFault] = field(default_factory=list)


def read_schedule(text: str, station: Station, six_digits: str = "") -> ReadSchedule:
    """Read a file; ``six_digits`` says what a date of six digits is: 'dmy', 'ymd', or refused."""
    read = ReadSchedule()
    rows = rows_of(text)
    number, heading = next(rows, (1, []))
    names = [cell.strip().lower() for cell in heading]
    read.faults += heading_faults(number, names)
    if read.faults:
        return read
    known = Known(station, six_digits)
    for number, cells in rows:
        take_line(read, known, number, names, cells)
    refuse_overlaps(read)
    return read


def rows_of(text: str) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of the lines that have any."""
    text = text.removeprefix("\ufeff")
    first = text.split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield reader.line_num, cells
    except csv.Error:
        return


def heading_faults(number: int, names: Sequence[str]) -> Iterator[LineFault]:
    if not names:
        yield LineFault(number, "", _("The file is empty."))
        return
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield LineFault(number, name, _("This column stands twice."))
    for name in names:
        if name not in (*NEEDED, *MAY_BE):
            yield LineFault(number, name, not_among(_("column"), name, [*NEEDED, *MAY_BE]))
    for name in NEEDED:
        if name not in names:
            yield LineFault(number, name, _("This column is missing in the heading."))


class Known:
    """What the register knows, and how its words are read."""

    def __init__(self, station: Station, six_digits: str) -> None:
        self.station = station
        self.six_digits = six_digits
        self.transmitters = {one.code: one for one in Transmitter.objects.filter(station=station)}
        self.antennas = {one.code: one for one in Antenna.objects.filter(station=station)}

    def reader(self, column: str) -> Callable[[str], Any]:
        readers: Mapping[str, Callable[[str], Any]] = {
            "transmitter": lambda text: among(_("transmitter"), text, self.transmitters),
            "antenna": lambda text: among(_("antenna"), text, self.antennas) if text else None,
            "frequency_khz": frequency,
            "start": start_minutes,
            "stop": minutes,
            "days": day_digits,
            "power_kw": optional_number,
            "azimuth_deg": optional_number,
            "slew_deg": optional_number,
            "valid_from": self.day,
            "valid_until": self.day,
        }
        return readers[column] if column in readers else plain(column)

    def day(self, text: str) -> date | None:
        if not text:
            return None
        formats = ["%Y-%m-%d"]
        if len(text) == 6 and text.isdigit():
            if not self.six_digits:
                raise BadCell(
                    _(
                        "%(text)s may be day-month-year or year-month-day: say which above, or "
                        "write it as 2026-03-29."
                    )
                    % {"text": text}
                )
            formats = [SIX_DIGITS[self.six_digits]]
        for one in formats:
            try:
                return datetime.strptime(text, one).replace(tzinfo=UTC).date()
            except ValueError:
                continue
        raise BadCell(_("'%(text)s' is no day: write it as 2026-03-29.") % {"text": text[:20]})


def take_line(
    read: ReadSchedule, known: Known, number: int, names: Sequence[str], cells: Sequence[str]
) -> None:
    """Add the line, or every fault that it has."""
    if len(cells) != len(names):
        sentence = _("It has %(n)s columns, the heading %(m)s.") % {
            "n": len(cells),
            "m": len(names),
        }
        read.faults.append(LineFault(number, "", sentence))
        return
    values, faults = {}, []
    for name, cell in zip(names, cells, strict=True):
        try:
            values[name] = known.reader(name)(cell.strip())
        except BadCell as bad:
            faults.append(LineFault(number, name, str(bad)))
    faults += [] if faults else whole_line_faults(number, values)
    if faults:
        read.faults += faults
        return
    values["start_min"], values["stop_min"] = values.pop("start"), values.pop("stop")
    read.lines.append(ScheduleLine(station=known.station, **values))
    read.numbers.append(number)


def whole_line_faults(number: int, values: Mapping[str, Any]) -> list[LineFault]:
    faults = []
    if values["start"] == values["stop"] % DAY_MIN and values["stop"] != DAY_MIN:
        sentence = _("Start and stop are one: for the whole day write 0000 and 2400.")
        faults.append(LineFault(number, "stop", sentence))
    first, last = values.get("valid_from"), values.get("valid_until")
    if first and last and last < first:
        faults.append(LineFault(number, "valid_until", _("It ends before it begins.")))
    return faults


def refuse_overlaps(read: ReadSchedule) -> None:
    """Of two lines that ask one transmitter for the same minute the later one is refused."""
    pairs = overlaps([row.line() for row in read.lines])
    for first, second in pairs:
        sentence = _("It overlaps line %(n)s on the same transmitter.") % {"n": read.numbers[first]}
        read.faults.append(LineFault(read.numbers[second], "start", sentence))
    refused = {second for _first, second in pairs}
    read.lines = [row for place, row in enumerate(read.lines) if place not in refused]
    read.numbers = [n for place, n in enumerate(read.numbers) if place not in refused]
    read.faults.sort(key=lambda fault: fault.number)


def among(what: str, text: str, known: Mapping[str, Any]) -> Any:
    if text not in known:
        raise BadCell(not_among(what, text, known))
    return known[text]


def optional_number(text: str) -> float | None:
    return number(text) if text else None


def number(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e9:
        raise BadCell(_("'%(text)s' is no number.") % {"text": text[:20]})
    return value


def frequency(text: str) -> float:
    khz = number(text)
    low, high = SHORT_WAVE_KHZ
    if not low <= khz <= high:
        raise BadCell(
            _("%(text)s kHz cannot be: write the frequency in kHz, %(low)g to %(high)g.")
            % {"text": text[:20], "low": low, "high": high}
        )
    return khz


def minutes(text: str) -> int:
    """'0600', '06:00' and '2400' as minutes of a day."""
    digits = text.replace(":", "")
    if len(digits) != 4 or not digits.isascii() or not digits.isdigit():
        raise BadCell(_("'%(text)s' is no time: write it as 0600, UTC.") % {"text": text[:20]})
    hours, rest = int(digits[:2]), int(digits[2:])
    if rest > 59 or hours * 60 + rest > DAY_MIN:
        raise BadCell(_("There is no time %(text)s.") % {"text": text})
    return hours * 60 + rest


def start_minutes(text: str) -> int:
    """A start at 2400 is the next day's 0000, and written as such the days are plain."""
    found = minutes(text)
    if found == DAY_MIN:
        raise BadCell(_("A start at 2400 is 0000 of the day after: write that, with its days."))
    return found


def day_digits(text: str) -> str:
    digits = "".join(sorted(text))
    if not digits or set(digits) - set("1234567") or len(set(digits)) != len(digits):
        raise BadCell(
            _("'%(text)s': write the digits of the days, each once, 1 is Sunday: 1234567.")
            % {"text": text[:20]}
        )
    return digits


def plain(column: str) -> Callable[[str], str]:
    longest = ScheduleLine._meta.get_field(column).max_length

    def read(text: str) -> str:
        if len(text) > longest:
            raise BadCell(_("It is longer than %(n)s characters.") % {"n": longest})
        return text

    return read
