"""The flags page: what stands, who answered it, and what it stands on."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.flags import FlagLine, build_flags
from health.models import Episode
from logbook.ledger import verify
from logbook.models import FlagAction
from logbook.services.corrections import correct_values, void_entry
from logbook.verification import stored_bodies
from station.models import Limit, Meter, Person, Station, Transmitter
from tests.make import (
    SLOT,
    make_limit,
    make_meter,
    make_round,
    make_state,
    make_transmitter,
    typed_for,
)
from tests.people import signed_in

HOUR = timedelta(hours=1)
NOW = SLOT + timedelta(minutes=40)

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, meter: Meter) -> Transmitter:
    make_limit(meter)
    make_state(shift, transmitter, observed_at=SLOT - timedelta(days=3), state="on_air")
    return transmitter


def raise_flag(by: Person, plant: Transmitter, slot: object = SLOT) -> Episode:
    make_round(by, plant, {"v1_anode_current": "15"}, slot=slot)
    return Episode.objects.latest("since_minute")


def address(episode: Episode) -> str:
    return f"/flags/T1/{episode.meter.code}/{episode.rule}/{episode.first_no}"


def lines(station: Station) -> list[FlagLine]:
    return [line for group in build_flags(station, NOW).groups for line in group.lines]


class TestBoard:
    def test_standing_flag_is_open(self, plant: Transmitter, shift: Person) -> None:
        raise_flag(shift, plant)
        (line,) = lines(plant.station)
        assert (line.life, line.is_stale) == ("open", False)

    @pytest.mark.need(35)
    def test_flag_that_stands_for_more_than_a_day_is_stale(
        self, plant: Transmitter, shift: Person
    ) -> None:
        raise_flag(shift, plant, SLOT - 25 * HOUR)
        (line,) = lines(plant.station)
        assert line.is_stale
        assert line.age > timedelta(hours=24)

    @pytest.mark.need(34)
    def test_third_flag_within_a_day_is_chattering(self, plant: Transmitter, shift: Person) -> None:
        for number, value in enumerate(["15", "12.4", "15", "12.4", "15"]):
            slot = SLOT - (5 - number) * HOUR
            make_round(shift, plant, {"v1_anode_current": value}, slot=slot)
        assert [line.is_chattering for line in lines(plant.station)] == [True, True, True]

    def test_pressing_flag_comes_first(self, plant: Transmitter, shift: Person) -> None:
        level = make_meter(plant, "level", quantity="water_level", unit="mm", full_scale=200)
        make_limit(level, low_alarm=90, high_alarm=None, priority="high")
        make_round(shift, plant, {"v1_anode_current": "15"}, slot=SLOT - HOUR)
        make_round(shift, plant, {"level": "80"})
        assert [line.priority for line in lines(plant.station)] == ["high", "medium"]

    @pytest.mark.need(38)
    def test_flag_within_two_days_is_told_with_the_first(
        self, plant: Transmitter, shift: Person
    ) -> None:
        for hours, value in ((50, "15"), (49, "12.4"), (3, "15"), (2, "12.4"), (1, "15")):
            make_round(shift, plant, {"v1_anode_current": value}, slot=SLOT - hours * HOUR)
        found = sorted(lines(plant.station), key=lambda line: line.episode.since_minute)
        first, second, later = found
        assert (first.began_with, second.began_with) == (None, first)
        assert later.began_with is None

    def test_same_number_of_queries_for_ten_transmitters(
        self, plant: Transmitter, shift: Person
    ) -> None:
        raise_flag(shift, plant)
        one = queries(plant.station)
        for number in range(2, 12):
            other = make_transmitter(station=plant.station, code=f"T{number}")
            make_limit(make_meter(other))
            make_state(shift, other)
            make_round(shift, other, {"v1_anode_current": "15"})
        assert queries(plant.station) == one


def queries(station: Station) -> int:
    with CaptureQueriesContext(connection) as captured:
        build_flags(station, NOW)
    return len(captured)


class TestAnswer:
    @pytest.mark.need(31)
    def test_acknowledged_flag_stays_listed(self, plant: Transmitter, shift: Person) -> None:
        episode = raise_flag(shift, plant)
        signed_in(shift).post(address(episode), {"verb": "acknowledge"})
        (line,) = lines(plant.station)
        assert line.life == "acknowledged"
        assert line.actions[0].words == "v1 anode current 15.0 A: at or above the high alarm 14.0"

    def test_action_is_in_the_chain(self, plant: Transmitter, shift: Person) -> None:
        episode = raise_flag(shift, plant)
        signed_in(shift).post(address(episode), {"verb": "acknowledge"})
        assert list(verify(plant.station, stored_bodies(plant.station))) == []

    def test_closing_before_the_return_is_answered_with_a_sentence(
        self, plant: Transmitter, shift: Person
    ) -> None:
        episode = raise_flag(shift, plant)
        answer = signed_in(shift).post(address(episode), {"verb": "close", "comment": "meter"})
        assert "has not returned" in answer.content.decode()
        assert not FlagAction.objects.exists()

    def test_closing_asks_for_the_cause(self, plant: Transmitter, shift: Person) -> None:
        episode = raise_flag(shift, plant, SLOT - HOUR)
        make_round(shift, plant, {"v1_anode_current": "12.4"})
        answer = signed_in(shift).post(address(episode), {"verb": "close"})
        assert "What was the cause?" in answer.content.decode()

    @pytest.mark.need(30)
    def test_returned_flag_closed_with_its_cause_leaves_the_list(
        self, plant: Transmitter, shift: Person
    ) -> None:
        episode = raise_flag(shift, plant, SLOT - HOUR)
        make_round(shift, plant, {"v1_anode_current": "12.4"})
        signed_in(shift).post(address(episode), {"verb": "close", "comment": "mains dip"})
        assert lines(plant.station) == []

    def test_high_priority_asks_what_is_being_done(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        Limit.objects.filter(meter=meter).update(priority="high")
        episode = raise_flag(shift, plant)
        answer = signed_in(shift).post(address(episode), {"verb": "acknowledge"})
        assert "say what is being done" in answer.content.decode()

    def test_flag_judged_away_is_shown_as_recomputed(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        episode = raise_flag(shift, plant)
        signed_in(shift).post(address(episode), {"verb": "acknowledge"})
        row = episode.meter.readings.get().round
        cells = {meter: typed_for(meter, "12.4")}
        correct_values(row, cells, reason="slip", by=shift, at=NOW)
        board = build_flags(plant.station, NOW)
        assert board.groups == ()
        assert [action.verb for action in board.recomputed] == ["acknowledge"]

    def test_voided_action_counts_nowhere(self, plant: Transmitter, shift: Person) -> None:
        episode = raise_flag(shift, plant)
        signed_in(shift).post(address(episode), {"verb": "acknowledge"})
        entry = FlagAction.objects.get().entry
        void_entry(entry, reason="the wrong flag", by=shift, at=NOW)
        assert lines(plant.station)[0].life == "open"


class TestPages:
    def test_evidence_shows_the_reading_the_limit_and_its_source(
        self, plant: Transmitter, viewer: Person, shift: Person
    ) -> None:
        episode = raise_flag(shift, plant)
        page = signed_in(viewer).get(address(episode)).content.decode()
        for words in ("raised the flag", "commissioning", "IEC 62682", "Read again."):
            assert words in page

    def test_viewer_may_read_and_not_answer(
        self, plant: Transmitter, viewer: Person, shift: Person
    ) -> None:
        episode = raise_flag(shift, plant)
        assert (
            "Acknowledge</button>" not in signed_in(viewer).get(address(episode)).content.decode()
        )
        assert signed_in(viewer).post(address(episode), {"verb": "close"}).status_code == 403

    def test_stranger_sees_nothing(
        self, plant: Transmitter, stranger: Person, shift: Person
    ) -> None:
        episode = raise_flag(shift, plant)
        assert signed_in(stranger).get(address(episode)).status_code == 404
        assert "v1 anode" not in signed_in(stranger).get("/flags").content.decode()

    def test_no_flag_says_so(self, plant: Transmitter, viewer: Person) -> None:
        assert "No flag stands" in signed_in(viewer).get("/flags").content.decode()

    def test_hall_leads_to_the_flag(self, plant: Transmitter, shift: Person) -> None:
        episode = raise_flag(shift, plant)
        assert address(episode) in signed_in(shift).get("/hall").content.decode()
