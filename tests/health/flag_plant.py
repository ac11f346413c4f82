"""A transmitter with meters that raise flags, at forty minutes past the usual slot, and how its
flags are read, listed and answered in tests."""

from datetime import datetime, timedelta

import pytest

from health.boards.flag_lines import FlagLine
from health.boards.flags import build_flags
from health.models import Episode
from station.models import Meter, Person, Station, Transmitter
from tests.make import SLOT, make_limit, make_meter, make_round, make_state
from tests.people import signed_in

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
NOW = SLOT + 40 * MINUTE
SHELF = {"verb": "shelve", "end": "4", "why": "compared at noon"}
ORDER = {"verb": "out", "order_number": "4711", "work": "shunt changed"}
ON_AIR = {"state": "on_air", "frequency_khz": 6105.0, "power_kw": 200.0, "set_by": "tap"}


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, meter: Meter, clock: object) -> Transmitter:
    make_limit(meter)
    make_state(shift, transmitter, observed_at=SLOT - timedelta(days=3), state="on_air")
    return transmitter


@pytest.fixture
def flow(plant: Transmitter) -> Meter:
    made = make_meter(plant, "flow", quantity="water_flow", unit="L/min", full_scale=100)
    make_limit(made, low_alarm=50, low_warning=55, high_warning=None, high_alarm=None)
    made.limits.update(priority="high")
    return made


@pytest.fixture
def level(plant: Transmitter) -> Meter:
    """Of low priority, as a register might have it."""
    made = make_meter(plant, "level", quantity="water_level", unit="mm", full_scale=200)
    make_limit(made, low_alarm=90, low_warning=100, high_warning=None, high_alarm=None)
    made.limits.update(priority="low")
    return made


def make_reflecting(by: Person, transmitter: Transmitter) -> Transmitter:
    """Forward 200 kW and 8 kW reflected: 4 %."""
    scale = {"unit": "kW", "decimals": 0, "full_scale": 300, "step": 1}
    for quantity in ("forward_power", "reflected_power"):
        make_meter(transmitter, quantity, quantity=quantity, **scale)
    make_state(by, transmitter, observed_at=SLOT - timedelta(days=3), state="on_air")
    make_round(by, transmitter, {"forward_power": "200", "reflected_power": "8"})
    return transmitter


def read(by: Person, plant: Transmitter, value: str, slot: datetime = SLOT, **over: str) -> Episode:
    make_round(by, plant, over or {"v1_anode_current": value}, slot=slot)
    return Episode.objects.order_by("since_minute", "pk").last()


def address(episode: Episode) -> str:
    return f"/flags/T1/{episode.meter.code}/{episode.rule}/{episode.first_no}"


def lines(station: Station, now: datetime = NOW, section: str = "") -> list[FlagLine]:
    groups = build_flags(station, now, section).groups
    return [line for group in groups for line in group.lines]


def lives(station: Station, now: datetime = NOW) -> list[str]:
    return [str(line.life) for line in lines(station, now)]


def page(person: Person, where: str) -> str:
    return " ".join(signed_in(person).get(where).content.decode().split())


def post(person: Person, episode: Episode, form: dict[str, str]) -> str:
    answer = signed_in(person).post(address(episode), form, follow=True)
    return " ".join(answer.content.decode().split())
