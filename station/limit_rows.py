"""What is read from the database to know which limits hold: plain rows, far faster than models."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import QuerySet

from station.models import Instrument, Limit, Meter, Normal, Station, Transmitter
from station.prepared import Prepared

BOTTOM_OF_SCALE = {"linear": 1 / 5, "square": 1 / 3}


class LimitVersion(NamedTuple):
    """The columns of a Limit that decide which one holds and what it says."""

    id: int
    meter_id: int
    state: str
    frequency_khz: float | None
    power_kw: float | None
    modulation: str
    low_alarm: float | None
    low_warning: float | None
    high_warning: float | None
    high_alarm: float | None
    is_from_normal: bool
    deadband: float | None
    priority: str
    advice: str
    valid_from: datetime


class NormalValue(NamedTuple):
    meter_id: int
    power_kw: float | None
    frequency_khz: float | None
    value: float


class InstrumentVersion(NamedTuple):
    """The columns of an Instrument that say how a meter is read while it hangs there."""

    meter_id: int
    valid_from: datetime
    valid_until: datetime | None
    scale_low: float
    full_scale: float
    lower_full_scale: float | None
    step: float
    class_percent: float | None
    scale_law: str

    def range_for(self, value: float) -> float:
        """The full scale of the range on which ``value`` is read."""
        lower = self.lower_full_scale
        return lower if lower is not None and value <= lower else self.full_scale

    def bottom_for(self, value: float) -> float:
        """Below it a reading on this range says little: a fifth of a linear scale, a third of a
        square-law one, nothing of a counter. Source: 47 CFR 73.1215 (from memory)."""
        return self.range_for(value) * BOTTOM_OF_SCALE.get(self.scale_law, 0.0)

    def error_for(self, value: float) -> float:
        """The meter's own error on this range, in its unit; 0 where its class is not known."""
        return (self.class_percent or 0.0) / 100 * self.range_for(value)


class BookRows(NamedTuple):
    """What a LimitBook is made of."""

    meters: list[Meter]
    limits: list[LimitVersion]
    normals: list[NormalValue]
    instruments: list[InstrumentVersion]


def limits_of(**where: Any) -> QuerySet[Limit]:
    rows = Limit.objects.filter(**where).order_by("valid_from")
    return rows.values_list(*LimitVersion._fields)


def normals_of(**where: Any) -> QuerySet[Normal]:
    return Normal.objects.filter(**where).values_list(*NormalValue._fields)


def instruments_of(**where: Any) -> QuerySet[Instrument]:
    rows = Instrument.objects.filter(**where).order_by("valid_from")
    return rows.values_list(*InstrumentVersion._fields)


LIMITS = Prepared(lambda transmitter: limits_of(meter__transmitter=transmitter), int)
NORMALS = Prepared(lambda transmitter: normals_of(meter__transmitter=transmitter), int)
INSTRUMENTS = Prepared(lambda transmitter: instruments_of(meter__transmitter=transmitter), int)


def rows_of(transmitter: Transmitter) -> BookRows:
    own = transmitter.pk
    return BookRows(
        list(transmitter.meters.select_related("stage", "socket").order_by("sheet_order")),
        [LimitVersion(*row) for row in LIMITS.rows(own)],
        [NormalValue(*row) for row in NORMALS.rows(own)],
        [InstrumentVersion(*row) for row in INSTRUMENTS.rows(own)],
    )


def rows_of_station(station: Station) -> Mapping[int, BookRows]:
    """The rows of each transmitter of a station, by its key, in four queries."""
    meters = Meter.objects.filter(station=station).select_related("stage", "socket")
    found: dict[int, BookRows] = defaultdict(lambda: BookRows([], [], [], []))
    of_meter: dict[int, BookRows] = {}
    for meter in meters.order_by("sheet_order"):
        of_meter[meter.pk] = found[meter.transmitter_id]
        of_meter[meter.pk].meters.append(meter)
    for limit in map(LimitVersion._make, limits_of(meter__station=station)):
        of_meter[limit.meter_id].limits.append(limit)
    for normal in map(NormalValue._make, normals_of(meter__station=station)):
        of_meter[normal.meter_id].normals.append(normal)
    for instrument in map(InstrumentVersion._make, instruments_of(meter__station=station)):
        of_meter[instrument.meter_id].instruments.append(instrument)
    return found
