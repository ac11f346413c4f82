"""The evidence page of a flag by expectation: bound, baselines, days, every meter concerned."""

from datetime import timedelta
from typing import Any

import pytest

from health.boards.flag_evidence import FlagEvidence, build_evidence
from health.boards.flag_expected import counted_words
from health.models import ChannelBaseline, ChannelDay, Episode
from health.rules.channels import Channel, Heeds
from health.rules.memory import COLUMNS
from health.rules.sheets import DAY_MIN
from logbook.times import minute_of
from station.models import Person, Transmitter
from tests.health.flag_plant import make_reflecting
from tests.make import SLOT
from tests.people import signed_in

NOW = SLOT + timedelta(minutes=40)
DAY = minute_of(SLOT) // DAY_MIN
KEY = "reflection dry"
DEPARTURE = {"channel": KEY, "value": 4.0, "centre": 1.5, "sigma": 0.5, "far": 4.5}
SHIFT = {"channel": KEY, "shift": 2.75, "reach": 2.5}

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def plant(transmitter: Transmitter, shift: Person) -> Transmitter:
    make_reflecting(shift, transmitter)
    for place, centre in (("6105 A1 200 tap", 1.5), ("9690 A1 200 tap", 2.0)):
        add_baseline(transmitter, place, centre)
    blank = dict.fromkeys(COLUMNS, 0.0)
    for day, mean in ((DAY - 6, 1.0), (DAY - 1, 2.5), (DAY, 3.0)):
        of_day = {**blank, "total": 2 * mean, "count": 2.0}
        own = {"transmitter": transmitter, "channel": KEY, "day": day, "run": 1}
        ChannelDay.objects.create(**{**of_day, **own})
    return transmitter


def add_baseline(transmitter: Transmitter, place: str, centre: float) -> None:
    ChannelBaseline.objects.create(
        transmitter=transmitter,
        channel=KEY,
        day=DAY - 9,
        place=place,
        centre=centre,
        between=0.3,
        within=0.4,
        runs=8,
        readings=60,
        is_last=True,
    )


def evidence(plant: Transmitter, rule: str, facts: dict[str, Any]) -> FlagEvidence:
    episode = Episode.objects.create(
        station=plant.station,
        transmitter=plant,
        meter=plant.meters.get(code="reflected_power"),
        rule=rule,
        first_no=2,
        since_minute=minute_of(SLOT),
        priority="low",
        evidence=facts,
    )
    return build_evidence(episode, NOW)


class TestDeparture:
    def test_baseline_is_the_one_that_it_departed_from(self, plant: Transmitter) -> None:
        """Sigma of scatters 0.3 and 0.4 is 0.5."""
        expected = evidence(plant, "reflection-departure", DEPARTURE).expected
        assert expected is not None
        ((place, centre, sigma),) = [
            (one.place, one.centre, one.sigma) for one in expected.baselines
        ]
        assert (place, centre, sigma) == ("6105 A1 200 tap", "1.50 %", "0.5")
        assert expected.found == "+5.0 sigma"
        assert expected.counted_from == "where it usually stands: +0.0 sigma from the baseline"
        assert expected.wants.startswith("4.5 sigma or more")
        assert expected.compared == "in dry weather"
        assert expected.days == ()

    def test_it_is_counted_from_where_it_usually_stands(self, plant: Transmitter) -> None:
        """A sigma of 0.5 above the baseline of 1.5: 4.0 is four sigmas above 2.0."""
        board = evidence(plant, "reflection-departure", {**DEPARTURE, "usual": 1.0})
        assert board.expected is not None
        assert board.expected.found == "+4.0 sigma"
        wanted = "where it usually stands: +1.0 sigma from the baseline"
        assert board.expected.counted_from == wanted
        assert "4.0 sigma above its usual 2.00 %" in board.line.words

    def test_every_meter_concerned_stands_beside_what_they_say_together(
        self, plant: Transmitter
    ) -> None:
        board = evidence(plant, "reflection-departure", DEPARTURE)
        assert [one.label for one in board.columns] == [
            "Reflected over forward power",
            "reflected power",
            "forward power",
        ]
        assert [row.words for row in board.rows] == [("4.00", "8", "200")]


class TestShift:
    def test_shows_all_baselines_and_the_days_of_the_mean(self, plant: Transmitter) -> None:
        expected = evidence(plant, "reflection-shift", SHIFT).expected
        assert expected is not None
        assert [one.centre for one in expected.baselines] == ["1.50 %", "2.00 %"]
        assert [(one.mean, one.levels) for one in expected.days] == [
            ("+2.5 sigma", 2),
            ("+3.0 sigma", 2),
        ]


class TestWhatClimbs:
    @pytest.mark.parametrize(
        ("quantity", "words"),
        [("conductivity", "where it stood two weeks before"), ("ht_voltage", "where it usually")],
    )
    def test_shift_of_it_is_a_rise(self, quantity: str, words: str) -> None:
        channel = Channel("x", (1,), Heeds.NOTHING, 0.1, quantity=quantity)
        assert counted_words(channel, SHIFT).startswith(words)


class TestPage:
    @pytest.mark.parametrize(
        ("rule", "facts"), [("reflection-departure", DEPARTURE), ("reflection-shift", SHIFT)]
    )
    def test_shows_it_all(
        self, plant: Transmitter, viewer: Person, rule: str, facts: dict[str, Any]
    ) -> None:
        address = evidence(plant, rule, facts).line.episode.get_absolute_url()
        page = signed_in(viewer).get(address).content.decode()
        for words in ("What was expected", "1.50 %", "History of forward power", "in dry weather"):
            assert words in page

    def test_channel_that_is_gone_leaves_its_own_meter(self, plant: Transmitter) -> None:
        board = evidence(plant, "reflection-shift", {**SHIFT, "channel": "gone"})
        assert [meter.code for meter in board.meters] == ["reflected_power"]
        assert board.expected is not None
        assert board.expected.baselines == ()
