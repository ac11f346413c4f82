"""The evidence page of a flag of what is strange together: which meters carry it, and how much."""

from datetime import timedelta
from typing import Any

import pytest

from health.boards.flag_evidence import build_evidence
from health.models import Episode
from logbook.times import minute_of
from station.models import Person, Transmitter
from tests.health.flag_plant import make_reflecting
from tests.make import SLOT
from tests.people import signed_in

NOW = SLOT + timedelta(minutes=40)
FACTS = {
    "channel": "reflection dry",
    "size": 112.4,
    "limit": 98.7,
    "carried": [
        {"channel": "reflection dry", "share": 0.614, "mean": 1.84},
        {"channel": "forward_power", "share": 0.205, "mean": -0.04},
        {"channel": "gone", "share": 0.1, "mean": 0.0},
    ],
}

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def plant(transmitter: Transmitter, shift: Person) -> Transmitter:
    return make_reflecting(shift, transmitter)


def flag(plant: Transmitter, facts: dict[str, Any]) -> Episode:
    return Episode.objects.create(
        station=plant.station,
        transmitter=plant,
        meter=plant.meters.get(code="reflected_power"),
        rule="pattern",
        first_no=2,
        since_minute=minute_of(SLOT),
        priority="low",
        evidence=facts,
    )


class TestPattern:
    def test_says_what_part_each_carries_and_where_it_stands(self, plant: Transmitter) -> None:
        """0.6 of the limit of 98.7 is 59."""
        together = build_evidence(flag(plant, FACTS), NOW).together
        assert together is not None
        assert (together.found, together.wants) == ("112", "99 or more; it ends below 59")
        assert [(one.words, one.compared, one.share, one.mean) for one in together.lines] == [
            ("Reflected over forward power", "in dry weather", "61 %", "+1.8 sigma"),
            ("forward power", "", "20 %", "+0.0 sigma"),
            ("gone", "", "10 %", "+0.0 sigma"),
        ]

    def test_readings_of_every_meter_that_carries_it_stand_below(self, plant: Transmitter) -> None:
        board = build_evidence(flag(plant, FACTS), NOW)
        assert [one.label for one in board.columns] == ["reflected power", "forward power"]
        assert [row.words for row in board.rows] == [("8", "200")]
        assert board.expected is None

    def test_page_shows_it_all(self, plant: Transmitter, viewer: Person) -> None:
        page = signed_in(viewer).get(flag(plant, FACTS).get_absolute_url()).content.decode()
        for words in (
            "reflected power and 2 others: strange together, 1.1 times the limit of the chart",
            "Which meters carry it",
            "Reflected over forward power (in dry weather)",
            "61 %",
            "History of forward power",
            'href="/explain/pattern"',
        ):
            assert words in page, words

    def test_register_without_any_of_them_leaves_its_own_meter(self, plant: Transmitter) -> None:
        gone = {**FACTS, "carried": [{"channel": "gone", "share": 0.9, "mean": 1.0}]}
        board = build_evidence(flag(plant, {**gone, "channel": "gone"}), NOW)
        assert [meter.code for meter in board.meters] == ["reflected_power"]
