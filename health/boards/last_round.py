"""What a round says of the power: forward, reflected, standing wave ratio, efficiency."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _

from health.formulas.rf import output_power, swr
from health.formulas.stage import anode_current_from_cathode_a, apparent_efficiency
from logbook.models import Reading
from logbook.reading_words import reading_words
from station.models import Meter

QUANTITIES_SHOWN = (
    "forward_power",
    "reflected_power",
    "ht_voltage",
    "anode_current",
    "grid_current",
)
FINAL_STAGE = "final"
WITH_GRID = "anode and grid"  # how the register says that a meter stands in the cathode lead
TO_BASE_UNIT = {"W": 1e-3, "V": 1e-3, "mA": 1e-3}  # to kW, kV, A

Readings = Mapping[int, Reading]


@dataclass(frozen=True)
class Figure:
    """A number in words; ``text`` '' is no reading, never zero."""

    label: str
    text: str
    unit: str = ""


def figures(meters: Sequence[Meter], readings: Readings) -> tuple[Figure, ...]:
    """The figures of one transmitter from its meters and the readings by meter."""
    forward = first(meters, "forward_power")
    reflected = first(meters, "reflected_power")
    forward_kw, reflected_kw = value_of(forward, readings), value_of(reflected, readings)
    efficiency = apparent_efficiency(
        output_power(forward_kw, reflected_kw),
        value_of(first(meters, "ht_voltage"), readings),
        final_anode_current_a(meters, readings),
    )
    return (
        as_read(_("Forward power"), forward, readings),
        as_read(_("Reflected power"), reflected, readings),
        Figure(_("SWR"), number(float(swr(forward_kw, reflected_kw)), 2)),
        Figure(_("Apparent efficiency"), number(float(efficiency) * 100, 1), "%"),
    )


def first(meters: Iterable[Meter], quantity: str) -> Meter | None:
    return next((meter for meter in meters if meter.quantity == quantity), None)


def as_read(label: str, meter: Meter | None, readings: Readings) -> Figure:
    """A reading as it was written, with its bound; '' for a code."""
    reading = readings.get(meter.pk) if meter else None
    if meter is None or reading is None or reading.value is None:
        return Figure(label, "")
    return Figure(label, reading_words(reading, meter.decimals), meter.unit)


def value_of(meter: Meter | None, readings: Readings) -> float:
    """In kW, kV or A; NaN without a number: an off-scale bound is none."""
    reading = readings.get(meter.pk) if meter else None
    if meter is None or reading is None or reading.value is None or reading.bound:
        return np.nan
    return reading.value * TO_BASE_UNIT.get(meter.unit, 1.0)


def final_anode_current_a(meters: Sequence[Meter], readings: Readings) -> float:
    """The sum of the final stage's anode currents; missing when one of them is."""
    anodes, grids = in_final(meters, "anode_current"), in_final(meters, "grid_current")
    total = sum_of(anodes, readings)
    if any(WITH_GRID in meter.includes for meter in anodes):
        return float(anode_current_from_cathode_a(total, sum_of(grids, readings)))
    return total


def in_final(meters: Iterable[Meter], quantity: str) -> list[Meter]:
    return [
        meter
        for meter in meters
        if meter.quantity == quantity and meter.stage and meter.stage.code == FINAL_STAGE
    ]


def sum_of(meters: Sequence[Meter], readings: Readings) -> float:
    return sum(value_of(meter, readings) for meter in meters) if meters else np.nan


def number(value: float, decimals: int) -> str:
    return "" if np.isnan(value) else f"{value:.{decimals}f}"
