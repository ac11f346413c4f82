"""The whole life of a flag on its page and in the lists: every state, by whom, and to when."""

from datetime import timedelta

import pytest
import time_machine

from health.assess import assess
from health.models import Episode
from logbook.models import FlagAction
from logbook.services.flags import FlagDraft, record_flag_action
from station.models import Meter, Person, Transmitter
from tests.health.flag_plant import (
    HOUR,
    MINUTE,
    NOW,
    ON_AIR,
    ORDER,
    SHELF,
    address,
    lines,
    lives,
    page,
    post,
    read,
)
from tests.make import SLOT, make_interruption, make_round, make_state
from tests.people import make_people, signed_in


@pytest.mark.need(32)
class TestShelf:
    def test_shelved_flag_says_to_when_by_whom_and_why(
        self, plant: Transmitter, shift: Person
    ) -> None:
        episode = read(shift, plant, "15")
        post(shift, episode, SHELF)
        words = "shelved until 2026-03-02 10:40 UTC, by Shift Moor: compared at noon"
        assert [line.state for line in lines(plant.station)] == [words]
        for where in (address(episode), "/flags?show=shelved", "/hall"):
            assert words in page(shift, where)

    def test_it_is_open_again_when_the_shelf_ends(
        self, plant: Transmitter, shift: Person, clock: time_machine.Traveller
    ) -> None:
        """Acknowledged before it was shelved: somebody has to look at it again all the same."""
        episode = read(shift, plant, "15")
        post(shift, episode, {"verb": "acknowledge"})
        post(shift, episode, SHELF)
        assert lives(plant.station, NOW + 4 * HOUR - MINUTE) == ["shelved"]
        assert lives(plant.station, NOW + 4 * HOUR) == ["open"]
        clock.move_to(NOW + 5 * HOUR)
        post(shift, episode, {"verb": "acknowledge"})
        assert lives(plant.station, NOW + 5 * HOUR) == ["acknowledged"]

    def test_flag_raised_meanwhile_is_shelved_and_asks_nobody_when_it_is_gone(
        self, plant: Transmitter, shift: Person, clock: time_machine.Traveller
    ) -> None:
        post(shift, read(shift, plant, "15"), SHELF)
        read(shift, plant, "12.4", SLOT + HOUR)
        read(shift, plant, "15", SLOT + 2 * HOUR)
        assert lives(plant.station, NOW + 2 * HOUR) == ["returned", "shelved"]
        read(shift, plant, "12.4", SLOT + 3 * HOUR)
        assert lives(plant.station, NOW + 3 * HOUR) == ["returned", "returned"]

    def test_other_rule_of_the_meter_is_open(self, plant: Transmitter, shift: Person) -> None:
        post(shift, read(shift, plant, "15"), SHELF)
        read(shift, plant, "9.8", SLOT + HOUR)
        assert "open" in lives(plant.station, NOW + HOUR)

    def test_reason_and_end_are_asked_for(self, plant: Transmitter, shift: Person) -> None:
        episode = read(shift, plant, "15")
        assert "Say why it can wait" in post(shift, episode, {**SHELF, "why": ""})
        assert "Choose when it comes back." in post(shift, episode, {**SHELF, "end": ""})
        assert "Select a valid choice" in post(shift, episode, {**SHELF, "end": "9"})
        assert not FlagAction.objects.exists()

    def test_shelved_twice_is_told(self, plant: Transmitter, shift: Person) -> None:
        episode = read(shift, plant, "15")
        post(shift, episode, SHELF)
        assert "there is nothing to shelve" in post(shift, episode, SHELF)

    def test_taken_off_the_shelf_it_is_open(
        self, plant: Transmitter, shift: Person, viewer: Person
    ) -> None:
        post(shift, read(shift, plant, "15"), SHELF)
        number = {"aside": str(FlagAction.objects.get().entry.no)}
        assert signed_in(viewer).post("/flags", number).status_code == 403
        assert signed_in(shift).post("/flags", {"aside": "x"}).status_code == 404
        assert signed_in(shift).post("/flags", number).status_code == 302
        assert lives(plant.station) == ["open"]

    @pytest.mark.need(66)
    def test_low_water_is_never_shelved_and_the_page_says_why(
        self, plant: Transmitter, level: Meter, shift: Person
    ) -> None:
        episode = read(shift, plant, "", level="80")
        assert "Low water is never shelved" in page(shift, address(episode))
        assert "Put it on the shelf</button>" not in page(shift, address(episode))
        assert "Low water is never shelved" in post(shift, episode, SHELF)
        draft = FlagDraft("limit-low", level, episode.first_no, "shelve", "written by other means")
        record_flag_action(draft, by=shift, at=NOW)
        assert lives(plant.station) == ["open"]

    @pytest.mark.need(38)
    def test_flag_of_a_trip_is_never_shelved(self, plant: Transmitter, shift: Person) -> None:
        make_interruption(shift, plant, begin=SLOT + 3 * MINUTE)
        episode = read(shift, plant, "15")
        assert "A flag of a trip is never shelved" in post(shift, episode, SHELF)
        assert lives(plant.station) == ["open"]


@pytest.mark.need(33)
class TestOutOfService:
    @pytest.mark.parametrize(
        ("name", "status"), [("engineer", 302), ("planner", 302), ("shift", 403), ("viewer", 403)]
    )
    def test_engineer_or_planner_may(
        self, plant: Transmitter, shift: Person, name: str, status: int
    ) -> None:
        episode = read(shift, plant, "15")
        shift.username = "writer"
        shift.save(update_fields=["username"])
        client = signed_in(make_people(plant.station)[name])
        assert client.post(address(episode), ORDER).status_code == status
        assert lives(plant.station) == ["out-of-service" if status == 302 else "open"]

    @pytest.mark.parametrize(
        ("verb", "status"), [("acknowledge", 403), ("shelve", 403), ("reset", 403)]
    )
    def test_planner_answers_no_flag(
        self, plant: Transmitter, shift: Person, planner: Person, verb: str, status: int
    ) -> None:
        episode = read(shift, plant, "15")
        assert signed_in(planner).post(address(episode), {"verb": verb}).status_code == status

    def test_every_flag_of_the_meter_says_the_order(
        self, plant: Transmitter, shift: Person, engineer: Person
    ) -> None:
        episode = read(shift, plant, "15")
        post(engineer, episode, ORDER)
        read(shift, plant, "9.8", SLOT + HOUR)
        standing = [line for line in lines(plant.station, NOW + HOUR) if line.is_standing]
        words = "on order 4711, since 2026-03-02 06:40 UTC, by Engineer Moor: shunt changed"
        assert [line.state for line in standing] == [f"out of service {words}"]

    def test_number_and_work_are_asked_for(
        self, plant: Transmitter, shift: Person, engineer: Person
    ) -> None:
        episode = read(shift, plant, "15")
        assert "This field is required" in post(engineer, episode, {**ORDER, "order_number": ""})
        assert "Say what is done" in post(engineer, episode, {**ORDER, "work": ""})

    def test_back_in_service_it_is_open(
        self, plant: Transmitter, shift: Person, engineer: Person, planner: Person
    ) -> None:
        post(engineer, read(shift, plant, "15"), ORDER)
        number = {"aside": str(FlagAction.objects.get().entry.no)}
        assert signed_in(shift).post("/flags", number).status_code == 403
        assert signed_in(planner).post("/flags", number).status_code == 302
        assert lives(plant.station) == ["open"]

    @pytest.mark.need(66)
    def test_low_water_stays_open(
        self, plant: Transmitter, level: Meter, shift: Person, engineer: Person
    ) -> None:
        post(engineer, read(shift, plant, "", level="80"), ORDER)
        assert lives(plant.station) == ["open"]


@pytest.mark.need(30)
class TestLatched:
    def returned(self, by: Person, plant: Transmitter) -> Episode:
        read(by, plant, "", SLOT - HOUR, flow="40")
        return read(by, plant, "", flow="60")

    def test_low_flow_wants_an_inspection_after_its_return(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        episode = self.returned(shift, plant)
        assert lives(plant.station) == ["latched"]
        assert "latched, to be inspected and reset" in page(shift, "/hall")
        closing = post(shift, episode, {"verb": "close", "comment": "strainer"})
        assert "It is closed after its reset" in closing
        assert "What did the inspection find?" in post(shift, episode, {"verb": "reset"})
        assert not FlagAction.objects.exists()

    @pytest.mark.need(31)
    def test_reset_then_closed_with_its_cause(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        episode = self.returned(shift, plant)
        post(shift, episode, {"verb": "reset", "comment": "strainer cleaned"})
        assert lives(plant.station) == ["returned"]
        assert "What was the cause?" in post(shift, episode, {"verb": "close"})
        post(shift, episode, {"verb": "close", "comment": "leaves in the strainer"})
        assert lives(plant.station) == []

    @pytest.mark.need(31)
    def test_high_priority_stays_listed_until_it_has_its_cause(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        self.returned(shift, plant)
        assert lives(plant.station, NOW + timedelta(days=20)) == ["latched"]

    def test_reset_before_the_return_is_answered_with_a_sentence(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        episode = read(shift, plant, "", flow="40")
        answer = post(shift, episode, {"verb": "reset", "comment": "looked"})
        assert "There is nothing to reset" in answer

    def test_flow_of_middle_priority_just_returns(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        flow.limits.update(priority="medium")
        self.returned(shift, plant)
        assert lives(plant.station) == ["returned-open"]


@pytest.mark.need(33)
class TestSuppressed:
    @pytest.fixture
    def ended(self, plant: Transmitter, shift: Person) -> Episode:
        read(shift, plant, "15", SLOT - 2 * HOUR)
        make_state(shift, plant, observed_at=SLOT - HOUR, state="standby")
        return read(shift, plant, "0")

    def test_what_the_state_ended_is_not_returned(
        self, plant: Transmitter, shift: Person, ended: Episode
    ) -> None:
        assert lives(plant.station) == ["suppressed"]
        assert "suppressed by state" in page(shift, address(ended))
        post(shift, ended, {"verb": "close", "comment": "tuned anew"})
        assert lives(plant.station) == []

    @pytest.mark.need(15)
    def test_standing_flag_is_suppressed_while_its_meter_says_nothing(
        self, plant: Transmitter, shift: Person
    ) -> None:
        read(shift, plant, "15", SLOT - 2 * HOUR)
        make_state(shift, plant, observed_at=SLOT - HOUR, state="standby")
        assert lives(plant.station) == ["suppressed"]
        make_state(shift, plant, observed_at=SLOT, **ON_AIR)
        assert lives(plant.station) == ["open"]

    @pytest.mark.need(15)
    def test_low_flow_wants_its_inspection_when_the_set_is_off(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        episode = read(shift, plant, "", SLOT - 2 * HOUR, flow="40")
        make_state(shift, plant, observed_at=SLOT - HOUR, state="off")
        assert lives(plant.station) == ["latched"]
        post(shift, episode, {"verb": "reset", "comment": "strainer cleaned"})
        assert lives(plant.station) == ["suppressed"]

    @pytest.mark.need(15, 66)
    def test_low_water_is_never_suppressed(
        self, plant: Transmitter, level: Meter, shift: Person
    ) -> None:
        read(shift, plant, "", SLOT - 2 * HOUR, level="80")
        make_state(shift, plant, observed_at=SLOT - HOUR, state="off")
        assert lives(plant.station) == ["open"]

    def test_rebuild_says_the_same(self, plant: Transmitter, ended: Episode) -> None:
        before = list(Episode.objects.values("first_no", "until_minute", "evidence"))
        assess(plant, rebuild=True)
        assert list(Episode.objects.values("first_no", "until_minute", "evidence")) == before

    def test_state_that_is_written_late_turns_suppressed_into_returned_and_back(
        self, plant: Transmitter, shift: Person, ended: Episode
    ) -> None:
        """The state at the second reading decides, and the flag began on the day before."""
        make_state(shift, plant, observed_at=SLOT - 30 * MINUTE, at=NOW, **ON_AIR)
        make_round(shift, plant, {"v1_anode_current": "12.4"}, slot=SLOT + HOUR)
        incremental = list(Episode.objects.values("rule", "until_minute", "evidence"))
        assert lives(plant.station, NOW + HOUR).count("suppressed") == 0
        assess(plant, rebuild=True)
        assert list(Episode.objects.values("rule", "until_minute", "evidence")) == incremental

    def test_flag_of_the_day_before_takes_and_loses_the_mark(
        self, plant: Transmitter, shift: Person
    ) -> None:
        read(shift, plant, "15", SLOT - 20 * HOUR)
        read(shift, plant, "12.4")
        assert lives(plant.station) == ["returned-open"]
        make_state(shift, plant, observed_at=SLOT - HOUR, at=NOW, state="standby")
        assert lives(plant.station) == ["suppressed"]
        make_state(shift, plant, observed_at=SLOT - HOUR + MINUTE, at=NOW, **ON_AIR)
        assert lives(plant.station) == ["returned-open"]
