"""What flags are consistent with, on the pages and in the command's JSON."""

import json
from datetime import UTC, date, datetime
from io import StringIO

import numpy as np
import pytest
from django.core.management import call_command
from django.test import Client

from fixtures.generator import history
from fixtures.generator.faults import Fault
from fixtures.load import load
from fixtures.people import make_people
from health.assess import assess
from health.management.commands.demo import REGISTER
from health.models import Episode, SymptomMatch
from logbook import port
from station.models import Station, Transmitter
from station.register.take import commission
from tests.people import make_person

STRAND = Fault(
    "broken_strand", "T3", np.datetime64("2026-02-20T00:00"), ramp_days=0.0, size=0.1, place=1
)
UNTIL = datetime(2026, 2, 23, tzinfo=UTC)

pytestmark = pytest.mark.django_db


@pytest.fixture
def station() -> Station:
    """Three weeks of T3, a strand of V2's filament broken in the last days."""
    commission(REGISTER.read_text(encoding="utf-8"), REGISTER.name, at=UNTIL)
    station = Station.objects.get()
    crew, _sign_ins = make_people(station)
    with port.silent():
        made = history(3, date(2026, 2, 1), 22, ("T3",), fault=STRAND)
        load(made, station, crew, UNTIL, seed=3)
    assess(Transmitter.objects.get(code="T3"))
    return station


def test_strand_is_told_by_the_flag_of_its_day(station: Station) -> None:
    first = SymptomMatch.objects.order_by("day").filter(day__gte=20504).first()
    assert first is not None
    name, score, part = first.ranked[0]
    assert (name, part) == ("S9", "V2")
    assert score > 0.5


def test_json_says_what_it_is_consistent_with(station: Station) -> None:
    out = StringIO()
    call_command("assess", "--json", stdout=out, stderr=StringIO())
    told = json.loads(out.getvalue())["symptoms"]
    assert {"S9"} <= {one["id"] for row in told for one in row["ranked"]}
    assert {row["transmitter"] for row in told} == {"T3"}


@pytest.mark.need(71, 73)
def test_flags_page_says_so_with_its_cautions(station: Station, client: Client) -> None:
    client.force_login(make_person("reader", "shift", station=station))
    flag = Episode.objects.get(meter__code="v2_filament_current", rule="departure")
    page = client.get(flag.get_absolute_url()).content.decode()
    assert "consistent with: Filament current of one tube down" in page
    assert "isolate, lock, discharge, earth, prove dead, permit, second person" in page
    assert "Beryllium oxide ceramic: never break" in page


def test_hall_names_the_likeliest_and_the_next_check(station: Station, client: Client) -> None:
    client.force_login(make_person("reader", "shift", station=station))
    page = client.get("/hall").content.decode()
    assert "Consistent with: Filament current of one tube down" in page
    assert "Contacts first" in page


def test_table_names_every_pattern_with_its_check(station: Station, client: Client) -> None:
    client.force_login(make_person("reader", "viewer", station=station))
    page = client.get("/explain/symptoms").content.decode()
    assert page.count("Next check:") == 39
    assert "Stop topping up; isolate the condenser; take a sample." in page


def test_week_lists_what_it_is_consistent_with(station: Station, client: Client) -> None:
    client.force_login(make_person("reader", "engineer", station=station))
    page = client.get("/week/2026-02-16").content.decode()
    assert "Consistent with: Filament current of one tube down at the same voltage (V2)" in page
