"""The register as rows: one form for what a file says and for what the register says."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from station.models import (
    Antenna,
    CoilSet,
    Instrument,
    Limit,
    Meter,
    Normal,
    PowerLevel,
    RoundInterval,
    Socket,
    Stage,
    Transmitter,
    TubeType,
    Wave,
)

Values = Mapping[str, Any]


@dataclass(frozen=True)
class Row:
    """One row. A reference to another row is that row's place."""

    kind: "Kind"
    values: dict[str, Any]

    @property
    def place(self) -> str:
        return self.kind.place(self.values)


@dataclass(frozen=True)
class Kind:
    """One table of the register: its fields, what they refer to, and a row's place.

    A row of a versioned kind is never edited: a change brings a newer version.
    """

    name: str
    model: type[models.Model]
    place: Callable[[Values], str]
    fields: tuple[str, ...]
    references: Mapping[str, str] = field(default_factory=dict)
    many: Mapping[str, str] = field(default_factory=dict)
    is_versioned: bool = False


def limit_place(values: Values) -> str:
    return conditioned(values["meter"].replace(".meters.", ".limits."), values)


def normal_place(values: Values) -> str:
    return conditioned(values["meter"].replace(".meters.", ".normals."), values)


def conditioned(place: str, values: Values) -> str:
    wave, power = values["frequency_khz"], values["power_kw"]
    conditions = [
        values.get("state"),
        None if wave is None else f"{wave:g} kHz",
        None if power is None else f"{power:g} kW",
        values.get("modulation"),
    ]
    written = ", ".join(word for word in conditions if word)
    return f"{place} ({written})" if written else place


OF_TRANSMITTER = {"transmitter": "transmitter"}
OF_METER = {"meter": "meter"}

KINDS = {
    kind.name: kind
    for kind in (
        Kind(
            "antenna",
            Antenna,
            lambda v: f"antennas.{v['code']}",
            ("code", "name", "low_khz", "high_khz"),
        ),
        Kind(
            "tube_type",
            TubeType,
            lambda v: f"tube_types.{v['code']}",
            ("code", "name", "filament_voltage_v", "filament_minimum_v", "filament_maximum_v")
            + ("rated_life_h", "life_spread_h", "lead_time_days", "run_in_h", "acceptance_days")
            + ("rotation_days", "conditioning_days", "life_exponent", "black_heat_percent"),
        ),
        Kind(
            "transmitter",
            Transmitter,
            lambda v: v["code"],
            ("code", "name", "full_power_kw", "default_modulation", "sheet_order"),
        ),
        Kind(
            "interval",
            RoundInterval,
            lambda v: f"{v['transmitter']}.every_min.{v['state']}",
            ("state", "minutes"),
            OF_TRANSMITTER,
        ),
        Kind(
            "power_level",
            PowerLevel,
            lambda v: f"{v['transmitter']}.power.{v['power_kw']:g} kW by {v['set_by']}",
            ("power_kw", "set_by"),
            OF_TRANSMITTER,
        ),
        Kind(
            "stage",
            Stage,
            lambda v: f"{v['transmitter']}.stages.{v['code']}",
            ("code", "name", "drive_feed_through"),
            OF_TRANSMITTER,
        ),
        Kind(
            "socket",
            Socket,
            lambda v: f"{v['stage'].partition('.')[0]}.sockets.{v['code']}",
            ("code",),
            {"stage": "stage"},
            {"fits": "tube_type"},
        ),
        Kind(
            "coil_set",
            CoilSet,
            lambda v: f"{v['transmitter']}.coil_sets.{v['code']}",
            ("code",),
            OF_TRANSMITTER,
        ),
        Kind(
            "wave",
            Wave,
            lambda v: f"{v['transmitter']}.waves.{v['frequency_khz']:g}",
            ("frequency_khz",),
            {**OF_TRANSMITTER, "coil_set": "coil_set", "antenna": "antenna"},
        ),
        Kind(
            "meter",
            Meter,
            lambda v: f"{v['transmitter']}.meters.{v['code']}",
            ("code", "label", "quantity", "unit", "decimals", "panel_group", "sheet_order")
            + ("includes", "moves", "occasion", "scatter", "counts", "line_ohm"),
            {**OF_TRANSMITTER, "stage": "stage", "socket": "socket"},
        ),
        Kind(
            "instrument",
            Instrument,
            lambda v: f"{v['meter']}.instrument",
            ("scale_low", "full_scale", "lower_full_scale", "step", "class_percent", "scale_law"),
            OF_METER,
            is_versioned=True,
        ),
        Kind(
            "limit",
            Limit,
            limit_place,
            ("state", "frequency_khz", "power_kw", "modulation")
            + ("low_alarm", "low_warning", "high_warning", "high_alarm")
            + ("is_from_normal", "deadband", "priority", "advice")
            + ("consequence", "allowed_min"),
            OF_METER,
            is_versioned=True,
        ),
        Kind("normal", Normal, normal_place, ("power_kw", "frequency_khz", "value"), OF_METER),
    )
}


def row(name: str, /, **values: Any) -> Row:
    return Row(KINDS[name], values)


def transmitter_code(place: str) -> str:
    """The transmitter that a row belongs to; for a row of the station itself, its table's name."""
    return place.partition(".")[0]
