"""What a gap between two programmes costs a tube: filaments off, or black heat."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from health.formulas.filament import filament_power_w, lowered_power_w
from health.tube_heater import filament_meters
from logbook.frames import stated_states
from logbook.queries import newest_numbers
from logbook.times import hours_of, minute_of
from station.models import Socket, TubeType
from station.states import State

LOOKED_BACK = timedelta(days=90)
MINUTES, KILO = 60, 1000


@dataclass(frozen=True)
class WarmUps:
    """How long the last warm-ups to standby took: their median in minutes, None without one."""

    n: int
    median_min: float | None


@dataclass(frozen=True)
class Gap:
    """A gap of ``hours``. ``power_kw`` is the filament's as last read, None where it was not;
    ``black_kwh`` what black heat takes, from the least to the most, None where the maker's per
    cent or the power is not known."""

    hours: float
    black_percent: float | None
    power_kw: float | None
    black_kwh: tuple[float, float] | None
    warm_ups: WarmUps


def build_gap(hours: float, tube_type: TubeType, socket: Socket, now: datetime) -> Gap:
    power, percent = filament_power_kw(socket, now), tube_type.black_heat_percent
    return Gap(
        hours=hours,
        black_percent=percent,
        power_kw=power,
        black_kwh=black_heat_kwh(hours, power, percent),
        warm_ups=warm_ups_of(socket.stage.transmitter_id, now),
    )


def black_heat_kwh(
    hours: float, power_kw: float | None, percent: float | None
) -> tuple[float, float] | None:
    if power_kw is None or percent is None:
        return None
    least, most = lowered_power_w(power_kw, percent / 100)
    return float(least) * hours, float(most) * hours


def filament_power_kw(socket: Socket, now: datetime) -> float | None:
    """By the newest readings of its volts and amps."""
    meters = filament_meters(socket)
    read = newest_numbers([meter.pk for meter in meters if meter], minute_of(now))
    values = [read[meter.pk].value for meter in meters if meter and meter.pk in read]
    if len(values) < len(meters):
        return None
    return float(filament_power_w(*values)) / KILO


def warm_ups_of(transmitter_id: int, now: datetime) -> WarmUps:
    """From the begin of warming to standby, of the last weeks."""
    at, state = stated_states([transmitter_id], now - LOOKED_BACK, now)[transmitter_id]
    is_whole = (state[:-1] == State.WARMING) & (state[1:] == State.STANDBY)
    is_whole &= at[:-1] >= hours_of(now - LOOKED_BACK)
    lengths = np.diff(at)[is_whole] * MINUTES
    return WarmUps(int(lengths.size), float(np.median(lengths)) if lengths.size else None)
