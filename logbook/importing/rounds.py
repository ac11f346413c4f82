"""A file's lines as rounds: who read what, when, at which point; each judged on its own."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property

from django.utils.translation import gettext as _

from logbook.cell_text import reading_of
from logbook.importing.faults import Refused
from logbook.importing.file import Line
from logbook.importing.heading import Heading
from logbook.importing.instants import instant_of_text
from logbook.importing.state_log import Value
from logbook.inserts import ReadingRow
from logbook.models import RoundKind
from logbook.queries import intervals_asked
from logbook.reading_text import Scale
from logbook.slots import USUAL_INTERVAL_MIN, latest_slot
from logbook.times import minute_of
from station.models import Antenna, Instrument, Meter, Person, Station, Transmitter
from station.states import Modulation, State


@dataclass
class ReadRound:
    """A round as the file says it: ``point`` what it says of the operating point, ``readings`` by
    meter code.
    """

    line: int
    transmitter: Transmitter
    observed_at: datetime
    slot: datetime
    kind: str
    modulation: str
    observer: Person
    point: tuple[tuple[str, Value], ...]
    readings: dict[str, ReadingRow] = field(default_factory=dict)

    @cached_property
    def minute(self) -> int:
        return minute_of(self.observed_at)


class Plant:
    """What the register says, by the words that a file uses."""

    def __init__(self, station: Station) -> None:
        self.station = station
        rows = Transmitter.objects.filter(station=station).select_related("station")
        self.transmitters = {one.code: one for one in rows}
        self.meters: dict[str, dict[str, Meter]] = {code: {} for code in self.transmitters}
        for meter in Meter.objects.filter(station=station).select_related("transmitter"):
            self.meters[meter.transmitter.code][meter.code] = meter
        self.antennas = {one.code: one for one in Antenna.objects.filter(station=station)}
        self.people = people_by_name(station)
        asked = intervals_asked(list(self.transmitters.values()))
        self.intervals = {
            code: min(asked.get(one.pk, {}).values(), default=USUAL_INTERVAL_MIN)
            for code, one in self.transmitters.items()
        }
        self.scales = scales_of(station)

    def all_meters(self) -> Iterator[Meter]:
        for own in self.meters.values():
            yield from own.values()

    def scale_at(self, meter: Meter, at: datetime) -> Scale | None:
        """The scale at an instant; before the first instrument that is known, that one's."""
        versions = self.scales.get(meter.id, ())
        if len(versions) < 2:
            return versions[0][1] if versions else None
        return versions[max(bisect_right(versions, at, key=since_of) - 1, 0)][1]


def since_of(version: tuple[datetime, Scale]) -> datetime:
    return version[0]


def scales_of(station: Station) -> dict[int, list[tuple[datetime, Scale]]]:
    found: dict[int, list[tuple[datetime, Scale]]] = {}
    rows = Instrument.objects.filter(station=station).order_by("valid_from")
    for row in rows.select_related("meter"):
        scale = Scale(row.scale_low, row.full_scale, row.meter.unit)
        found.setdefault(row.meter_id, []).append((row.valid_from, scale))
    return found


def people_by_name(station: Station) -> dict[str, Person | None]:
    """By user name and by written name; None where two people have the same written name."""
    found: dict[str, Person | None] = {}
    people = list(Person.objects.filter(station=station))
    for person in people:
        found[person.written_name] = None if person.written_name in found else person
    return found | {person.username: person for person in people}


class RoundReader:
    """Makes rounds of lines; a line that is not right raises ``Refused``."""

    def __init__(self, heading: Heading, plant: Plant, now: datetime) -> None:
        self.heading, self.plant, self.now = heading, plant, now

    def text(self, line: Line, column: str) -> str:
        place = self.heading.place.get(column)
        return "" if place is None else line.cells[place]

    def round(self, line: Line) -> ReadRound:
        """The round of a line, without its cells."""
        if len(line.cells) != self.heading.width:
            reason = _("has %(count)s cells, and the heading has %(width)s") % {
                "count": len(line.cells),
                "width": self.heading.width,
            }
            raise Refused("line", reason)
        code = self.text(line, "transmitter")
        transmitter = known(self.plant.transmitters, code, "transmitter")
        observed_at = self.instant(line, "observed_at")
        return ReadRound(
            line=line.no,
            transmitter=transmitter,
            observed_at=observed_at,
            slot=self.slot(line, observed_at, code),
            kind=known(KINDS, self.text(line, "kind") or RoundKind.ROUTINE.value, "kind"),
            modulation=known(MODULATIONS, self.text(line, "modulation"), "modulation"),
            observer=self.observer(self.text(line, "observer")),
            point=tuple(self.point(line)),
        )

    def instant(self, line: Line, column: str) -> datetime:
        text = self.text(line, column)
        at = instant_of_text(text, column, is_utc=column in self.heading.in_utc)
        if at > self.now:
            raise Refused(column, _("has not come yet"), text)
        return at

    def slot(self, line: Line, observed_at: datetime, code: str) -> datetime:
        if self.text(line, "slot"):
            return self.instant(line, "slot")
        return latest_slot(observed_at, self.plant.intervals[code])

    def observer(self, name: str) -> Person:
        person = known(self.plant.people, name, "observer")
        if person is None:
            reason = _("is the name of two people: write the user name")
            raise Refused("observer", reason, name)
        return person

    def point(self, line: Line) -> Iterator[tuple[str, Value]]:
        """What the line says of the operating point; a blank cell says nothing."""
        state, antenna = self.text(line, "state"), self.text(line, "antenna")
        if state:
            yield "state", known(STATES, state, "state")
        if antenna:
            yield "antenna", known(self.plant.antennas, antenna, "antenna").code
        for column in ("frequency_khz", "power_kw"):
            text = self.text(line, column)
            if text:
                yield column, positive(text, column)

    def readings(self, line: Line, row: ReadRound) -> Iterator[ReadingRow]:
        """What a line says of the meters; a blank cell says nothing."""
        if self.heading.is_long:
            if text := self.text(line, "value"):
                yield self.reading(row, self.text(line, "meter"), text)
            return
        for code, place in self.heading.meters.items():
            if text := line.cells[place]:
                yield self.reading(row, code, text)

    def reading(self, row: ReadRound, code: str, text: str) -> ReadingRow:
        meter = self.plant.meters[row.transmitter.code].get(code)
        if meter is None:
            reason = _("is no meter of %(code)s") % {"code": row.transmitter.code}
            raise Refused("meter" if self.heading.is_long else code, reason, code)
        cell = reading_of(text, self.plant.scale_at(meter, row.observed_at))
        return ReadingRow(
            meter, row.minute, cell.value, cell.code, cell.bound, cell.mark, cell.text
        )


KINDS = {value: value for value in RoundKind.values}
MODULATIONS = {value: value for value in Modulation.values}
STATES = {value: value for value in State.values}


def known(among: Mapping, text: str, column: str):
    """What a word stands for.

    Raises
    ------
    Refused
    """
    if text not in among:
        reason = _("is not known here")
        if len(among) <= len(State):
            reason = _("is none of %(words)s") % {"words": ", ".join(among)}
        raise Refused(column, reason if text else _("is blank"), text)
    return among[text]


def positive(text: str, column: str) -> float:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = -1.0
    if not 0 < number < float("inf"):
        raise Refused(column, _("is no number above zero"), text)
    return number
