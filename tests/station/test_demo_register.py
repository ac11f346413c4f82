"""The demo station's register says what the demo station table says.

The table is a second copy, taken from the station's design and not from the register file.
Source: demo station table.
"""

from collections.abc import Iterator
from math import inf
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from station.models import Instrument, Limit, Meter, Normal, Station, Wave
from station.quantities import DIALS
from tests.station.files import DEMO, commission_demo

TABLE = Path(__file__).with_name("demo_station_table.txt")
T3_DIALS = ("T3 anode_tune_dial", "T3 coupling_dial", "T3 drive_tune_dial")  # not in the table
WAVES = {  # kHz: coil set, anode-tune dial, coupling dial, final anode current of both tubes
    6105: ("1", 490, 609, 24.52),
    7265: ("1", 294, 586, 24.57),
    9690: ("2", 485, 537, 24.70),
    11850: ("2", 266, 494, 24.82),
    15375: ("3", 349, 424, 25.01),
    17805: ("3", 215, 375, 25.17),
    21560: ("4", 245, 300, 25.44),
}

pytestmark = pytest.mark.django_db


class Facts(NamedTuple):
    """What the table says of one meter."""

    unit: str
    scales: tuple[float, ...]
    step: float
    normals: tuple[float, ...]
    scatter: float | None


class Band(NamedTuple):
    """Limits at full power for carrier, programme ('on') or any ('') modulation."""

    meter: str
    modulation: str
    values: tuple[float, float, float, float]


def table_lines() -> Iterator[list[str]]:
    for line in TABLE.read_text().splitlines():
        if not line.startswith("#"):
            yield [cell.strip() for cell in (line + " |" * 11).split("|")]


def numbers(text: str) -> tuple[float, ...]:
    return tuple(float(word) for word in text.split())


def facts_of_table() -> dict[str, Facts]:
    found = {}
    for line in table_lines():
        facts = Facts(
            unit=line[2],
            scales=numbers(line[3].replace("/", " ")),
            step=float(line[4]),
            normals=tuple(dict.fromkeys(numbers(line[6]))),
            scatter=float(line[7]) if line[7] else None,
        )
        found.update({f"{line[0]} {code}": facts for code in line[1].split()})
    return found


def bands_of_table() -> set[Band]:
    found = set()
    for line in table_lines():
        alarms = [one.strip() for one in line[10].split(";")]
        for number, warning in enumerate(one.strip() for one in line[9].split(";")):
            if not warning:
                continue
            modulation = "on" if warning.startswith("on") else line[8]
            if ";" in line[9] and not number:
                modulation = "carrier"
            values = ends(warning, alarms[number])
            found |= {Band(f"{line[0]} {code}", modulation, values) for code in line[1].split()}
    return found


def ends(warning: str, alarm: str) -> tuple[float, float, float, float]:
    low_warning, high_warning = numbers(warning.removeprefix("on").replace("/", " "))
    low_alarm, high_alarm = numbers((alarm or "-inf / inf").removeprefix("on").replace("/", " "))
    return (low_alarm, low_warning, high_warning, high_alarm)


def named(meter: Meter) -> str:
    return f"{meter.transmitter.code} {meter.code}"


def facts_of_register() -> dict[str, Facts]:
    return {named(meter): facts(meter) for meter in Meter.objects.select_related("transmitter")}


def facts(meter: Meter) -> Facts:
    instrument = Instrument.objects.get(meter=meter)
    scales = (instrument.lower_full_scale, instrument.full_scale)
    # A dial is read to the division; its own scatter stands in the history, not in the table.
    scatter = None if meter.quantity in DIALS else meter.scatter
    return Facts(
        unit=meter.unit,
        scales=tuple(one for one in scales if one is not None),
        step=instrument.step,
        normals=tuple(
            Normal.objects.filter(meter=meter, frequency_khz=None)
            .order_by("power_kw")
            .values_list("value", flat=True)
        ),
        scatter=scatter,
    )


def bands_of_register() -> set[Band]:
    limits = Limit.objects.select_related("meter__transmitter")
    return {Band(named(limit.meter), limit.modulation, bounds(limit)) for limit in limits}


def bounds(limit: Limit) -> Any:
    lows = (limit.low_alarm, limit.low_warning)
    highs = (limit.high_warning, limit.high_alarm)
    return tuple(-inf if one is None else one for one in lows) + tuple(
        inf if one is None else one for one in highs
    )


@pytest.fixture
def demo() -> Station:
    return commission_demo()


class TestDemoRegister:
    def test_every_meter_is_as_in_the_table(self, demo: Station) -> None:
        register = facts_of_register()
        register["T3 m1_anode_current"] = lower_only(register["T3 m1_anode_current"])
        register["T3 m2_anode_current"] = lower_only(register["T3 m2_anode_current"])
        without_t3_dials = {name: one for name, one in register.items() if name not in T3_DIALS}
        assert without_t3_dials == facts_of_table()

    def test_t3_is_tuned_like_t1(self, demo: Station) -> None:
        register = facts_of_register()
        assert all(register[name] == register[name.replace("T3", "T1")] for name in T3_DIALS)

    def test_every_band_of_the_table_is_in_force(self, demo: Station) -> None:
        assert bands_of_table() - bands_of_register() == set()

    def test_bands_beyond_the_table_are_for_programme_alone(self, demo: Station) -> None:
        dials = {band for band in bands_of_register() if band.meter in T3_DIALS}
        extra = bands_of_register() - bands_of_table() - dials
        assert {band.modulation for band in extra} == {"on"}
        assert {band.meter.partition(" ")[0] for band in extra} == {"T3", "M1"}

    @pytest.mark.parametrize("khz", WAVES)
    def test_a_wave_is_as_in_the_table(self, khz: int, demo: Station) -> None:
        coil_set, anode_tune, coupling, anode_current = WAVES[khz]
        wave = Wave.objects.get(transmitter__code="T1", frequency_khz=khz)
        normals = dict(
            Normal.objects.filter(meter__transmitter__code="T1", frequency_khz=khz).values_list(
                "meter__code", "value"
            )
        )
        assert wave.coil_set.code == coil_set
        assert normals["anode_tune_dial"] == anode_tune
        assert normals["coupling_dial"] == coupling
        pair = normals["v1_anode_current"] + normals["v2_anode_current"]
        assert pair == pytest.approx(anode_current, abs=1e-9)

    @pytest.mark.need(66)
    def test_a_low_water_level_is_of_high_priority(self, demo: Station) -> None:
        limit = Limit.objects.get(meter__transmitter__code="T1", meter__code="v1_boiler_level")
        assert limit.priority == "high"
        assert limit.advice.startswith("Reduce or take HT off at once")

    @pytest.mark.need(29)
    def test_every_alarm_says_what_to_do(self, demo: Station) -> None:
        alarms = Limit.objects.exclude(low_alarm=None, high_alarm=None)
        assert alarms.count() > 50
        assert not alarms.filter(advice="").exists()

    def test_the_file_says_how_it_is_written(self) -> None:
        assert DEMO.read_text().startswith("# The demo station: an invented station")


def lower_only(facts: Facts) -> Facts:
    """The table names T3's idle range alone; programme needs the upper one."""
    return facts._replace(scales=facts.scales[:1])
