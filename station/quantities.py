"""What can be read at a station: each quantity's unit, decimals, and how it goes with power.

With k = sqrt(P / P_full): ``tap_exponent`` 1 means the value goes with k when power is set by
the HT tap; ``coupling_exponent`` is the law when power is set by coupling. None means that no
law holds, and nothing is scaled. ``live`` names the states in which a reading means anything.
Source: conservation of energy and linearity of a class-C stage in its HT; common practice.
"""

from dataclasses import dataclass

ANY, FILAMENTS, HT, RF, AERIAL = "any", "filaments", "ht", "rf", "aerial"


@dataclass(frozen=True)
class Quantity:
    key: str
    label: str
    units: tuple[str, ...]
    decimals: int
    live: str
    tap_exponent: float | None = 0
    coupling_exponent: float | None = 0

    @property
    def unit(self) -> str:
        return self.units[0]


_TABLE = (
    # key, label, units, decimals, live, tap exponent, coupling exponent
    Quantity("ht_voltage", "HT voltage", ("kV", "V"), 2, HT, 1, 0),
    Quantity("ht_current", "HT current", ("A",), 1, RF, 1, 2),
    Quantity("anode_voltage", "anode voltage", ("kV", "V"), 2, HT, 1, 0),
    Quantity("anode_current", "anode current", ("A", "mA"), 2, RF, 1, 2),
    Quantity("idle_current", "idle current", ("A", "mA"), 2, HT, 1, 0),
    Quantity("tone_current", "current on test tone", ("A",), 1, RF, 1, None),
    Quantity("grid_current", "grid current", ("A", "mA"), 3, RF, 1, None),
    Quantity("screen_current", "screen current", ("mA", "A"), 0, RF, 1, None),
    Quantity("grid_bias", "grid bias", ("V",), 0, RF, 1, None),
    Quantity("filament_voltage", "filament voltage", ("V",), 2, FILAMENTS),
    Quantity("filament_current", "filament current", ("A",), 0, FILAMENTS),
    Quantity("forward_power", "forward power", ("kW", "W"), 1, AERIAL, 2, 2),
    Quantity("reflected_power", "reflected power", ("kW", "W"), 2, AERIAL, 2, 2),
    Quantity("feeder_current", "feeder current", ("A",), 1, AERIAL, 1, 1),
    Quantity("steam_rate", "steam rate", ("kg/h",), 0, RF, None, None),
    Quantity("water_level", "water level", ("mm",), 0, ANY),
    Quantity("water_flow", "water flow", ("L/min",), 0, FILAMENTS),
    Quantity("water_temperature", "water temperature", ("C",), 1, RF),
    Quantity("temperature_rise", "temperature rise", ("K",), 1, RF, None, None),
    Quantity("air_temperature", "air temperature", ("C",), 0, ANY),
    Quantity("conductivity", "conductivity at 25 C", ("uS/cm",), 1, ANY),
    Quantity("leakage_current", "leakage current", ("mA",), 1, HT, 1, 0),
    Quantity("water_volume", "water counter", ("L",), 0, ANY),
    Quantity("dial", "tuning dial", ("div",), 0, ANY),
    Quantity("coupling_dial", "coupling dial", ("div",), 0, ANY),
    Quantity("mains_voltage", "mains voltage", ("V",), 0, ANY),
    Quantity("mains_power", "mains power", ("kW",), 0, RF, None, None),
    Quantity("pressure_drop", "pressure drop", ("Pa",), 0, FILAMENTS),
    Quantity("hours", "hour counter", ("h",), 1, ANY),
)

# Where a circuit is set to a wave; the coupling sets the load, so it follows no law of the wave.
COUPLING_DIAL = "coupling_dial"
DIALS = ("dial", COUPLING_DIAL)

QUANTITIES = {quantity.key: quantity for quantity in _TABLE}
UNITS = frozenset(unit for quantity in _TABLE for unit in quantity.units)
