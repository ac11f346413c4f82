"""Which limits hold for a meter at an operating point: the one place that knows the rules.

The most specific version in force wins, in the order state, wave, power, modulation. An explicit
limit for a power beats one scaled from full power. Limits are inclusive.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from math import sqrt
from typing import Any

from station.limit_rows import (
    BookRows,
    InstrumentVersion,
    LimitVersion,
    rows_of,
    rows_of_station,
)
from station.models import Meter, Station, Transmitter
from station.models.meter import Moves
from station.states import LIVE_STATES, Modulation, PowerSetBy


@dataclass(frozen=True)
class Place:
    """The part of an operating point that limits depend on."""

    state: str
    frequency_khz: float | None
    power_kw: float | None
    set_by: str
    modulation: str


@dataclass(frozen=True)
class Band:
    """Limits and normal value at one place, in the meter's unit; None is 'no limit'."""

    normal: float | None = None
    low_alarm: float | None = None
    low_warning: float | None = None
    high_warning: float | None = None
    high_alarm: float | None = None
    deadband: float = 0.0
    limit_id: int | None = None
    priority: str = ""
    advice: str = ""

    def level(self, value: float, bound: str = "") -> str:
        """'alarm-high', 'warning-low' and so on, or '' when the value is inside."""
        if self.high_alarm is not None and (value >= self.high_alarm or bound == ">"):
            return "alarm-high"
        if self.low_alarm is not None and (value <= self.low_alarm or bound == "<"):
            return "alarm-low"
        if self.high_warning is not None and (value >= self.high_warning or bound == ">"):
            return "warning-high"
        if self.low_warning is not None and (value <= self.low_warning or bound == "<"):
            return "warning-low"
        return ""


NO_BAND = Band()


class LimitBook:
    """All limits, normals and instruments of one transmitter, read once."""

    def __init__(self, transmitter: Transmitter, rows: BookRows | None = None) -> None:
        rows = rows or rows_of(transmitter)
        self.transmitter = transmitter
        self.meters = rows.meters
        self._limits = by_meter(rows.limits)
        self._normals = by_meter(rows.normals)
        self._instruments = by_meter(rows.instruments)
        self.epochs = self.change_instants()
        self._bands: dict[tuple[int, Place, int], Band] = {}

    def change_instants(self) -> list[datetime]:
        """The instants at which any limit or instrument changes, in order."""
        limits = {limit.valid_from for group in self._limits.values() for limit in group}
        instruments = {one.valid_from for group in self._instruments.values() for one in group}
        return sorted(limits | instruments)

    def instrument(self, meter: Meter, at: datetime) -> InstrumentVersion | None:
        standing = [
            one
            for one in self._instruments[meter.pk]
            if one.valid_from <= at and (one.valid_until is None or at < one.valid_until)
        ]
        return standing[-1] if standing else None

    def band(self, meter: Meter, place: Place, at: datetime) -> Band:
        """The limits of ``meter`` at ``place``; none when it is not live there."""
        key = (meter.pk, place, bisect_right(self.epochs, at))
        if key not in self._bands:
            self._bands[key] = self.find_band(meter, place, at)
        return self._bands[key]

    def find_band(self, meter: Meter, place: Place, at: datetime) -> Band:
        normal = self.normal(meter, place)
        if not is_live(meter, place.state):
            return NO_BAND
        limit = self.limit_in_force(meter, place, at)
        if limit is None:
            return Band(normal=normal)
        factor = self.factor(meter, limit, place)
        if factor is None:
            return Band(normal=normal)
        return self.scaled(limit, normal, factor, self.instrument(meter, at))

    def flag_band(self, meter: Meter, place: Place, at: datetime) -> Band:
        """The same, no alarm limit nearer to the normal value than the meter's own error: a reading
        there marks its cell, and accuses nobody."""
        band = self.band(meter, place, at)
        instrument = self.instrument(meter, at)
        if band.normal is None or instrument is None:
            return band
        error = instrument.error_for(band.normal)
        low, high = (
            None if limit is None else moved_out(limit, limit, band.normal, error)
            for limit in (band.low_alarm, band.high_alarm)
        )
        return replace(band, low_alarm=low, high_alarm=high)

    def scaled(
        self,
        limit: LimitVersion,
        normal: float | None,
        factor: float,
        instrument: InstrumentVersion | None,
    ) -> Band:
        step = instrument.step if instrument else 0.0
        base = normal if limit.is_from_normal else 0.0
        values = [limit.low_alarm, limit.low_warning, limit.high_warning, limit.high_alarm]
        if base is None:
            return NO_BAND
        scaled = [None if value is None else base + value * factor for value in values]
        if factor != 1.0:
            scaled = clear_of_error(scaled, normal, instrument)
        low_alarm, low_warning, high_warning, high_alarm = proved(scaled, normal, instrument)
        return Band(
            normal=normal,
            low_alarm=low_alarm,
            low_warning=low_warning,
            high_warning=high_warning,
            high_alarm=high_alarm,
            deadband=limit.deadband if limit.deadband is not None else step,
            limit_id=limit.id,
            priority=limit.priority,
            advice=limit.advice,
        )

    def limit_in_force(self, meter: Meter, place: Place, at: datetime) -> LimitVersion | None:
        newest = {
            columns(limit): limit for limit in self._limits[meter.pk] if limit.valid_from <= at
        }
        fitting = [
            limit
            for limit in newest.values()
            if not is_withdrawn(limit) and fits(limit, meter, place)
        ]
        return max(fitting, key=specificity, default=None)

    def normal(self, meter: Meter, place: Place) -> float | None:
        """The normal value: of this wave and power, else of one of them, else scaled.

        Normal values of a lower power are those of its tap; coupling has its own law from there.
        """
        known = {(n.power_kw, n.frequency_khz): n.value for n in self._normals[meter.pk]}
        full_power, wave = self.transmitter.full_power_kw, place.frequency_khz
        power = None if self.is_coupled(place) else place.power_kw
        for exact in ((power, wave), (None, wave), (power, None), (None, None)):
            if exact in known:
                return known[exact]
        full = known.get((full_power, wave), known.get((full_power, None)))
        scale = self.scale(meter, place)
        return None if full is None or scale is None else full * scale

    def factor(self, meter: Meter, limit: LimitVersion, place: Place) -> float | None:
        """What a limit is multiplied by at ``place``; None when no law holds there."""
        if limit.power_kw is not None or place.power_kw is None or limit.is_from_normal:
            return 1.0
        return self.scale(meter, place)

    def is_coupled(self, place: Place) -> bool:
        full = self.transmitter.full_power_kw
        return place.set_by == PowerSetBy.COUPLING and place.power_kw != full

    def tap_power(self, place: Place) -> float:
        """The power of the tap in use: coupling lowers it from the next tap above."""
        full = self.transmitter.full_power_kw
        taps = {n.power_kw for rows in self._normals.values() for n in rows if n.power_kw}
        wanted = full if place.power_kw is None else place.power_kw
        return min((tap for tap in {*taps, full} if tap > wanted), default=wanted)

    def scale(self, meter: Meter, place: Place) -> float | None:
        """A meter's value at ``place`` over that at full power: by the tap, then by coupling."""
        is_coupled = self.is_coupled(place)
        tap = self.tap_power(place) if is_coupled else place.power_kw
        of_tap = self.of_tap(meter, tap)
        if not is_coupled or of_tap is None or place.power_kw is None or tap is None:
            return of_tap
        exponent = meter.quantity_facts.coupling_exponent
        return None if exponent is None else of_tap * sqrt(place.power_kw / tap) ** exponent

    def of_tap(self, meter: Meter, power_kw: float | None) -> float | None:
        """The share of full power's value at a tap: as the register states it, else by the law."""
        full = self.transmitter.full_power_kw
        exponent = meter.quantity_facts.tap_exponent
        if exponent == 0 or power_kw == full:
            return 1.0
        known = {n.power_kw: n.value for n in self._normals[meter.pk] if not n.frequency_khz}
        if known.get(full) and power_kw in known:
            return known[power_kw] / known[full]
        if exponent is None or power_kw is None:
            return None
        return sqrt(power_kw / full) ** exponent


def proved(
    limits: list[float | None], normal: float | None, instrument: InstrumentVersion | None
) -> list[float | None]:
    """Low alarm, low warning, high warning, high alarm without what the meter cannot show: at the
    bottom of its scale a limit nearer to the normal value than the meter's error proves nothing.
    A low one falls away, a high one holds from where the scale can be read.
    """
    if normal is None or instrument is None:
        return limits
    return [
        unproved(limit, instrument, is_high=place > 1)
        if limit is not None
        and limit < instrument.bottom_for(limit)
        and abs(limit - normal) < instrument.error_for(limit)
        else limit
        for place, limit in enumerate(limits)
    ]


def clear_of_error(
    limits: list[float | None], normal: float | None, instrument: InstrumentVersion | None
) -> list[float | None]:
    """Low alarm, low warning, high warning, high alarm that a law of the power gave, none nearer
    to the normal value than the meter's own error: what was stated stands as it was stated, what
    was computed shall not accuse the meter. The warning keeps its share of the way to the alarm.
    """
    if normal is None or instrument is None:
        return limits
    error = instrument.error_for(normal)
    alarms = limits[0], limits[3]
    return [
        None if limit is None else moved_out(limit, alarms[place > 1], normal, error)
        for place, limit in enumerate(limits)
    ]


def moved_out(limit: float, alarm: float | None, normal: float, error: float) -> float:
    away = abs((limit if alarm is None else alarm) - normal)
    return normal + (limit - normal) * max(1.0, error / away) if away else limit


def unproved(limit: float, instrument: InstrumentVersion, *, is_high: bool) -> float | None:
    return instrument.bottom_for(limit) if is_high else None


def limit_books(station: Station) -> list[LimitBook]:
    """The books of all transmitters of a station, in four queries and one for themselves."""
    rows = rows_of_station(station)
    transmitters = Transmitter.objects.filter(station=station).select_related("station")
    return [LimitBook(one, rows[one.pk]) for one in transmitters]


def by_meter(rows: Iterable[Any]) -> dict[int, list]:
    groups: dict[int, list] = defaultdict(list)
    for row in rows:
        groups[row.meter_id].append(row)
    return groups


def columns(limit: LimitVersion) -> tuple:
    return (limit.state, limit.frequency_khz, limit.power_kw, limit.modulation)


def is_withdrawn(limit: LimitVersion) -> bool:
    """Whether a version takes the limit away, so that a wider one holds in its place."""
    values = (limit.low_alarm, limit.low_warning, limit.high_warning, limit.high_alarm)
    return all(value is None for value in values)


def is_live(meter: Meter, state: str) -> bool:
    """Whether a reading of this meter means anything in this state; an unknown state: yes."""
    return not state or state in LIVE_STATES[meter.quantity_facts.live]


def limit_modulation(meter: Meter, modulation: str) -> str:
    """A pause gives carrier readings of what follows at once, not of what lags by minutes."""
    if modulation == Modulation.CARRIER:
        return "carrier"
    if modulation == Modulation.PAUSED and meter.moves == Moves.FAST:
        return "carrier"
    return "on"


def fits(limit: LimitVersion, meter: Meter, place: Place) -> bool:
    return (
        limit.state in ("", place.state)
        and limit.frequency_khz in (None, place.frequency_khz)
        and limit.power_kw in (None, place.power_kw)
        and limit.modulation in ("", limit_modulation(meter, place.modulation))
    )


def specificity(limit: LimitVersion) -> tuple[bool, bool, bool, bool]:
    return (
        limit.state != "",
        limit.frequency_khz is not None,
        limit.power_kw is not None,
        limit.modulation != "",
    )
