"""A register file turned into rows."""

import tomllib
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django.utils.translation import gettext as _

from station.models.transmitter import LogDay, TubeType
from station.quantities import QUANTITIES
from station.register.description import Description
from station.register.faults import Fault, not_among
from station.register.likeness import filled
from station.register.meters import METER_KEYS, describe_meters
from station.register.rows import Row, row
from station.register.table import Table
from station.states import Modulation, PowerSetBy, State


def describe(text: str) -> Description:
    """Read a file. Faults of its form stand in ``faults``; what can be read is read."""
    faults: list[Fault] = []
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        faults.append(Fault(_("not TOML"), str(error)))
        return Description({}, faults=faults)
    return described(raw, faults)


def described(raw: dict[str, Any], faults: list[Fault]) -> Description:
    file = Table(raw, "", faults)
    found = describe_station(file.table("station"))
    zone = ZoneInfo(found.station["time_zone"] or "UTC")
    found.rows += antennas(file.table("antennas")) + tube_types(file.table("tube_types"))
    defaults = defaults_by_quantity(file.table("defaults"))
    transmitters = file.table("transmitters")
    transmitters.raw = filled(transmitters.raw, faults)
    for order, table in enumerate(transmitters.named().values(), start=1):
        describe_transmitter(table, order, found, zone, defaults)
    file.close()
    return found


def describe_station(table: Table) -> Description:
    station = {
        "code": table.text("code"),
        "name": table.text("name"),
        "time_zone": table.text("time_zone", "UTC"),
        "log_day": table.choice("log_day", _("log day"), LogDay.values, LogDay.UTC.value),
        "late_after_min": table.whole("late_after_min", 15),
    }
    if station["time_zone"] not in available_timezones():
        table.fault("time_zone", _("write a time zone such as Europe/Vienna or UTC."))
        station["time_zone"] = "UTC"
    valid_from = table.instant("valid_from", ZoneInfo(station["time_zone"]))
    table.close()
    return Description(station, valid_from, faults=table.faults)


def antennas(tables: Table) -> list[Row]:
    rows = []
    for code, table in tables.named("antennas.{}").items():
        low_khz, high_khz = table.ends("khz")
        values = {"code": code, "name": table.text("name", "")}
        rows.append(row("antenna", **values, low_khz=low_khz, high_khz=high_khz))
        table.close()
    return rows


def tube_types(tables: Table) -> list[Row]:
    rows = []
    for code, table in tables.named("tube_types.{}").items():
        rows.append(
            row(
                "tube_type",
                code=code,
                name=table.text("name", ""),
                filament_voltage_v=table.number("filament_v"),
                filament_minimum_v=table.number("minimum_v", None),
                filament_maximum_v=table.number("maximum_v"),
                life_exponent=table.number("life_exponent", None),
                black_heat_percent=table.number("black_heat_percent", None),
                rated_life_h=table.number("life_h"),
                life_spread_h=table.number("spread_h", None),
                lead_time_days=table.whole("lead_days"),
                run_in_h=table.number("run_in_h", default_of("run_in_h")),
                acceptance_days=table.whole("acceptance_days", default_of("acceptance_days")),
                rotation_days=table.whole("rotation_days", default_of("rotation_days")),
                conditioning_days=table.whole("conditioning_days", default_of("conditioning_days")),
            )
        )
        table.close()
    return rows


def default_of(name: str) -> Any:
    """What the register itself says of a tube type where the file is silent."""
    return TubeType._meta.get_field(name).default


def defaults_by_quantity(tables: Table) -> dict[str, dict[str, Any]]:
    """What the file says of all meters of a quantity, unless a meter says otherwise."""
    defaults = {}
    for quantity, table in tables.named("defaults.{}").items():
        if quantity not in QUANTITIES:
            table.fault("", not_among(_("quantity"), quantity, QUANTITIES))
        table.asked = METER_KEYS - {"code", "quantity", "normal"}
        table.close()
        defaults[quantity] = {key: table.raw[key] for key in table.raw if key in table.asked}
    return defaults


def describe_transmitter(
    table: Table, order: int, found: Description, zone: ZoneInfo, defaults: dict[str, Any]
) -> None:
    code = table.place
    table.text("like", None)
    table.texts("without", [])
    powers = table.numbers("power_kw")
    own = row(
        "transmitter",
        code=code,
        name=table.text("name"),
        full_power_kw=table.number("full_power_kw", max(powers, default=None)),
        default_modulation=table.choice(
            "modulation", _("modulation"), Modulation.values, Modulation.ON.value
        ),
        sheet_order=order,
    )
    found.rows += [own, *intervals(table, code), *power_levels(table, code, powers)]
    found.rows += stages(table, code)
    found.rows += waves(table, code, own.values["full_power_kw"])
    describe_meters(table, powers, zone, defaults, found)
    table.close()


def intervals(table: Table, code: str) -> list[Row]:
    every = table.table("every_min")
    for state in every.raw:
        if state not in State.values:
            every.fault(state, not_among(_("state"), state, State.values))
    states = [state for state in State.values if every.has(state)]
    return [
        row("interval", transmitter=code, state=state, minutes=every.whole(state))
        for state in states
    ]


def power_levels(table: Table, code: str, powers: list[float]) -> list[Row]:
    by_coupling = table.numbers("coupling_kw") if table.has("coupling_kw") else []
    ways = [(PowerSetBy.TAP, powers), (PowerSetBy.COUPLING, by_coupling)]
    return [
        row("power_level", transmitter=code, power_kw=power_kw, set_by=way.value)
        for way, levels in ways
        for power_kw in levels
    ]


def stages(table: Table, code: str) -> list[Row]:
    rows = []
    tables = table.table("stages")
    for stage_code, stage in tables.named(f"{code}.stages.{{}}").items():
        own = row(
            "stage",
            transmitter=code,
            code=stage_code,
            name=stage.text("name", stage_code),
            drive_feed_through=stage.number("drive_feed_through", 0.0),
        )
        rows.append(own)
        sockets = stage.table("sockets")
        for socket_code in sockets.raw:
            fits = sorted(f"tube_types.{tube}" for tube in sockets.texts(socket_code))
            rows.append(row("socket", stage=own.place, code=socket_code, fits=fits))
        stage.close()
    return rows


def waves(table: Table, code: str, full_power_kw: float | None) -> list[Row]:
    rows: dict[str, Row] = {}
    extra = []
    for wave in table.tables("waves", "khz"):
        khz, coil_set = wave.number("khz"), wave.text("coil_set", None)
        coil_row = row("coil_set", transmitter=code, code=coil_set)
        if coil_set:
            rows[coil_row.place] = coil_row
        antenna = wave.text("antenna")
        extra += normals_of_wave(wave, code, khz, full_power_kw)
        wave.close()
        if khz is not None:
            extra.append(
                row(
                    "wave",
                    transmitter=code,
                    frequency_khz=khz,
                    coil_set=coil_row.place if coil_set else None,
                    antenna=f"antennas.{antenna}" if antenna else None,
                )
            )
    return [*rows.values(), *extra]


def normals_of_wave(
    wave: Table, code: str, khz: float | None, full_power_kw: float | None
) -> list[Row]:
    """A wave's own normal values: at any power, and at full power."""
    return [
        row(
            "normal",
            meter=f"{code}.meters.{meter}",
            power_kw=power_kw,
            frequency_khz=khz,
            value=values.number(meter),
        )
        for key, power_kw in (("normals", None), ("full_power_normals", full_power_kw))
        for values in [wave.table(key)]
        for meter in values.raw
    ]
