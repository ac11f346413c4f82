"""The week's small multiples: which series a transmitter has, from its meters' hourly values."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from django.utils.translation import gettext as _

from health.boards.last_round import FINAL_STAGE, TO_BASE_UNIT
from health.formulas.rf import output_power, reflection_ratio
from health.formulas.stage import (
    anode_input_kw,
    apparent_efficiency,
    efficiency_with_driver,
    pair_balance_points,
)
from station.models import Meter

Hours = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Trace:
    """One line: hourly values of this week and of the week before."""

    label: str
    values: Hours
    before: Hours


@dataclass(frozen=True)
class Panel:
    """One small chart. ``meter`` is the meter whose limits are drawn, where there is just one;
    ``explained`` names the page of the formula behind it, '' where it is read as it is."""

    key: str
    label: str
    unit: str
    decimals: int
    traces: tuple[Trace, ...]
    meter: Meter | None = None
    explained: str = ""


class WeekOfMeters:
    """The meters of one transmitter and their values: two weeks of hours for each meter."""

    def __init__(self, meters: Sequence[Meter], values: Mapping[int, Hours], hours: int) -> None:
        self.meters = meters
        self.values = values
        self.hours = hours

    def of(self, quantity: str, stage: str = "") -> list[Meter]:
        return [
            meter
            for meter in self.meters
            if meter.quantity == quantity
            and (not stage or (meter.stage is not None and meter.stage.code == stage))
        ]

    def read(self, meter: Meter) -> Hours:
        """As it is read, in the meter's own unit."""
        missing = np.full(2 * self.hours, np.nan)
        return self.values.get(meter.pk, missing)

    def base(self, meters: Sequence[Meter]) -> Hours:
        """The sum in kW, kV or A; missing where one of them is, or where there are none."""
        if not meters:
            return np.full(2 * self.hours, np.nan)
        return np.sum([self.read(one) * TO_BASE_UNIT.get(one.unit, 1.0) for one in meters], axis=0)

    def trace(self, label: str, values: Hours) -> Trace:
        return Trace(label, values[self.hours :], values[: self.hours])


def panels_of(week: WeekOfMeters) -> tuple[Panel, ...]:
    """The panels of a transmitter that have any value in the two weeks."""
    made = [panel for make in MAKERS for panel in make(week)]
    return tuple(panel for panel in made if has_values(panel))


def has_values(panel: Panel) -> bool:
    return any(not np.isnan([one.values, one.before]).all() for one in panel.traces)


def power(week: WeekOfMeters) -> list[Panel]:
    forward = week.of("forward_power")[:1]
    return [single("power", _("Power"), 0, meter, week) for meter in forward]


def single(key: str, label: str, decimals: int, meter: Meter, week: WeekOfMeters) -> Panel:
    """One meter as it is read, with its limits."""
    trace = week.trace(meter.label, week.read(meter))
    return Panel(key, label, meter.unit, decimals, (trace,), meter)


def output_kw(week: WeekOfMeters) -> Hours:
    forward = week.base(week.of("forward_power")[:1])
    return output_power(forward, week.base(week.of("reflected_power")[:1]))


def efficiency(week: WeekOfMeters) -> list[Panel]:
    volts = week.base(week.of("ht_voltage")[:1])
    amps = week.base(week.of("anode_current", FINAL_STAGE))
    final = anode_input_kw(volts, amps)
    driver = anode_input_kw(
        week.base(week.of("anode_voltage", "driver")[:1]),
        week.base(week.of("anode_current", "driver")),
    )
    output = output_kw(week)
    traces = (
        week.trace(_("apparent"), 100 * apparent_efficiency(output, volts, amps)),
        week.trace(_("driver counted"), 100 * efficiency_with_driver(output, final, driver)),
    )
    return [Panel("efficiency", _("Efficiency"), "%", 1, traces, explained="apparent_efficiency")]


def reflected(week: WeekOfMeters) -> list[Panel]:
    ratio = reflection_ratio(
        week.base(week.of("forward_power")[:1]), week.base(week.of("reflected_power")[:1])
    )
    trace = week.trace(_("of forward"), 100 * ratio)
    return [Panel("reflected", _("Reflected"), "%", 1, (trace,), explained="reflection_ratio")]


def balance(week: WeekOfMeters) -> list[Panel]:
    """The first tube above the second, for each quantity that just two tubes of the final have."""
    pairs = [
        (label, week.of(quantity, FINAL_STAGE))
        for label, quantity in ((_("anode"), "anode_current"), (_("grid"), "grid_current"))
    ]
    traces = tuple(
        week.trace(label, pair_balance_points(*(week.read(meter) for meter in pair)))
        for label, pair in pairs
        if len(pair) == 2
    )
    return [Panel("balance", _("Pair balance"), "%", 1, traces, explained="pair_balance_points")]


def filaments(week: WeekOfMeters) -> list[Panel]:
    """Each filament voltage in per cent of its own median of the two weeks, so that all fit."""
    traces = tuple(
        week.trace(meter.label, 100 * values / np.nanmedian(values))
        for meter in week.of("filament_voltage")
        if not np.isnan(values := week.read(meter)).all()
    )
    return [Panel("filaments", _("Filaments"), "%", 1, traces)]


def water(week: WeekOfMeters) -> list[Panel]:
    rise, level = week.of("temperature_rise")[:1], week.of("water_level")
    rises = [single("rise", _("Rise"), 1, meter, week) for meter in rise]
    levels = tuple(week.trace(meter.label, week.read(meter)) for meter in level)
    if not levels:
        return rises
    return [*rises, Panel("level", _("Level"), level[0].unit, 0, levels, level[0])]


MAKERS: tuple[Callable[[WeekOfMeters], list[Panel]], ...] = (
    power,
    efficiency,
    reflected,
    balance,
    filaments,
    water,
)
