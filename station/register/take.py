"""Takes a register file into the register: all of it or nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from station.models import Commissioned, Station
from station.models.use import is_used
from station.register.checks import faults_of, remarks_of
from station.register.compare import STATION, Change, Comparison, compare, differences
from station.register.describe import describe
from station.register.description import Description
from station.register.faults import Fault
from station.register.rows import KINDS, Row, transmitter_code
from station.register.stored import Stored, last_taken, stored
from station.register.versions import save_version
from station.signals import tell_limits_changed

FROZEN = ("unit", "quantity")
REASON = "commissioning"
JUDGED_BY = frozenset({"transmitter", "meter", "instrument", "limit", "normal"})


@dataclass
class Report:
    """What commissioning found and did."""

    faults: list[Fault] = field(default_factory=list)
    remarks: list[Fault] = field(default_factory=list)
    comparison: Comparison = field(default_factory=Comparison)
    is_taken: bool = False


def commission(
    text: str,
    file_name: str,
    *,
    at: datetime,
    is_dry_run: bool = False,
    takes_file: bool = False,
) -> Report:
    """Create or update a station's register from a file, unless anything speaks against it."""
    found = describe(text)
    faults = list(dict.fromkeys([*found.faults, *(faults_of(found) if found.station else [])]))
    if faults:
        return Report(faults)
    with transaction.atomic():
        return taken(found, file_name, at, is_dry_run, takes_file)


def taken(
    found: Description, file_name: str, at: datetime, is_dry_run: bool, takes_file: bool
) -> Report:
    station = Station.objects.select_for_update().filter(code=found.station["code"]).first()
    register = stored(station) if station else Stored()
    last = last_taken(station) if station else {}
    comparison = compare(found.rows, register, last)
    compare_station(comparison, station, found.station, last)
    writer = Writer(found, register, at)
    report = Report(writer.faults(comparison), remarks=remarks_of(found), comparison=comparison)
    if report.faults or is_dry_run or (comparison.is_refused and not takes_file):
        return report
    writer.write(station, comparison)
    if writer.said() != last:
        writer.remember(file_name)
    report.is_taken = not comparison.is_empty
    return report


def compare_station(
    comparison: Comparison, station: Station | None, said: dict[str, Any], last: Mapping[str, Any]
) -> None:
    if station is None:
        return
    known = {name: getattr(station, name) for name in said}
    changes = differences(STATION, known, said)
    comparison.changes += changes
    comparison.edited_later += [
        change for change in changes if last.get(STATION, {}).get(change.name) != known[change.name]
    ]


class Writer:
    """Writes rows in the order of their kinds, so that what a row refers to is there."""

    def __init__(self, found: Description, register: Stored, at: datetime) -> None:
        self.found = found
        self.register = register
        self.at = at
        self.instances = dict(register.instances)
        self.since: dict[str, datetime] = {}

    def faults(self, comparison: Comparison) -> list[Fault]:
        return [
            *(self.frozen(change) for change in comparison.changes if self.is_frozen(change)),
            *(
                self.not_later(change.place)
                for change in comparison.changes
                if self.is_not_later(change)
            ),
        ]

    def is_frozen(self, change: Change) -> bool:
        is_meter = change.row is not None and change.row.kind.name == "meter"
        return is_meter and change.name in FROZEN and is_used(self.instances[change.place])

    def frozen(self, change: Change) -> Fault:
        sentence = _(
            "%(name)s cannot change from %(before)s to %(after)s: this meter has been read. "
            "Describe a new meter with a code of its own."
        )
        words = {"name": change.name, "before": change.before, "after": change.after}
        return Fault(change.place, sentence % words)

    def is_not_later(self, change: Change) -> bool:
        if change.row is None or not change.row.kind.is_versioned:
            return False
        return self.version_from(change.row) <= self.instances[change.place].valid_from

    def not_later(self, place: str) -> Fault:
        sentence = _("valid_from must be later than %(known)s, when the version in force began.")
        known = self.instances[place].valid_from
        return Fault(place, sentence % {"known": f"{known:%Y-%m-%d %H:%M} UTC"})

    def version_from(self, row: Row) -> datetime:
        """When a new version begins: as written; for a new meter with the station; else now."""
        if row.place in self.found.versions_from:
            return self.found.versions_from[row.place]
        is_new_meter = row.values["meter"] not in self.register.rows
        return (self.found.valid_from if is_new_meter else None) or self.at

    def write(self, station: Station | None, comparison: Comparison) -> None:
        self.station = station or Station()
        for name, value in self.found.station.items():
            setattr(self.station, name, value)
        self.station.save()
        for row in in_order([*comparison.new, *changed_rows(comparison)]):
            self.write_row(row)
            self.note_since(row)
        for code, since in self.since.items():
            tell_limits_changed(self.instances[code], since)

    def write_row(self, row: Row) -> None:
        known = self.instances.get(row.place)
        is_new = known is None or row.kind.is_versioned
        instance = row.kind.model(station=self.station) if is_new else known
        for name in row.kind.fields:
            setattr(instance, name, row.values[name])
        for name in row.kind.references:
            setattr(instance, name, self.instances.get(row.values[name]))
        if row.kind.is_versioned:
            self.write_version(row, instance, known)
        else:
            instance.save()
        for name in row.kind.many:
            getattr(instance, name).set([self.instances[one] for one in row.values[name]])
        self.instances[row.place] = instance

    def write_version(self, row: Row, instance: Any, known: Any) -> None:
        instance.valid_from = self.version_from(row)
        if row.kind.name == "limit":
            instance.reason = REASON
        save_version(instance, known)

    def note_since(self, row: Row) -> None:
        """From when a transmitter's rounds are to be judged again."""
        if row.kind.name not in JUDGED_BY:
            return
        code = transmitter_code(row.place)
        instance = self.instances[row.place]
        begun = getattr(instance, "valid_from", None) or self.found.valid_from or self.at
        self.since[code] = min(begun, self.since.get(code, begun))

    def said(self) -> dict[str, Any]:
        rows = {row.place: row.values for row in self.found.rows}
        return {STATION: self.found.station, **rows}

    def remember(self, file_name: str) -> None:
        Commissioned.objects.create(
            station=self.station, at=self.at, file_name=file_name, rows=self.said()
        )


def changed_rows(comparison: Comparison) -> list[Row]:
    rows = {change.place: change.row for change in comparison.changes}
    return [row for row in rows.values() if row is not None]


def in_order(rows: list[Row]) -> list[Row]:
    order = list(KINDS)
    return sorted(rows, key=lambda row: order.index(row.kind.name))
