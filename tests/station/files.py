"""Register files for tests: the demo station's, and a small one to change."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from station.models import Station
from station.register.take import Report, commission

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo_station.toml"
TAKEN_AT = datetime(2026, 3, 1, 12, tzinfo=UTC)

SMALL = """
[station]
code = "moor"
name = "Moor"
time_zone = "Europe/Vienna"
valid_from = 2020-01-01

[antennas]
A1 = { khz = [5900, 7500] }

[tube_types]
F200 = { filament_v = 12, minimum_v = 11.4, maximum_v = 12.6, life_h = 11000, lead_days = 274 }

[defaults]
anode_current = { class = 1.5, advice = "Read again." }

[transmitters.T1]
name = "200 kW"
power_kw = [120, 200]
every_min = { on_air = 60 }
stages = { final = { sockets = { V1 = ["F200"], V2 = ["F200"] } } }

[[transmitters.T1.panels]]
name = "Final"
meters = [
  { code = "v1_anode_current", quantity = "anode_current", socket = "V1", scale = 20, step = 0.2,
    normal = [9.6, 12.4], warning = [11.6, 13.2], alarm = [10.8, 14.0] },
  { code = "v2_anode_current", quantity = "anode_current", socket = "V2", scale = 20, step = 0.2,
    normal = [9.6, 12.4] },
]

[[transmitters.T1.limits]]
meter = "v2_anode_current"
modulation = "carrier"
warning = [11.6, 13.2]

[[transmitters.T1.waves]]
khz = 6105
antenna = "A1"
""".replace(",\n   ", ",")  # an inline table stands on one line


def take(text: str, **over: Any) -> Report:
    return commission(text, "test.toml", **{"at": TAKEN_AT, **over})


def changed(*changes: tuple[str, str]) -> str:
    """The small file with each first text in place of the second; each must be there."""
    text = SMALL
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def commission_demo() -> Station:
    report = take(DEMO.read_text())
    assert report.faults == []
    return Station.objects.get()
