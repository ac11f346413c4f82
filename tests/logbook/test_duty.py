"""Duty and hand-over: assembled by the tool, written by one, countersigned by another."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from logbook import port
from logbook.duty import duties, open_handovers
from logbook.handover_board import as_text, assemble
from logbook.models import DutyTaken, Handover
from logbook.services.corrections import void_entry
from logbook.services.duty import AlreadyTaken, NotTheSecondPerson, record_duty, record_handover
from station.models import Meter, Person, ScheduleLine, Transmitter
from station.schedules import take_schedule
from tests.make import (
    SLOT,
    make_interruption,
    make_limit,
    make_permit,
    make_round,
    make_state,
)
from tests.people import signed_in

NOW = SLOT + timedelta(hours=3)
HOUR = timedelta(hours=1)

pytestmark = [pytest.mark.need(49), pytest.mark.usefixtures("clock")]


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter) -> Transmitter:
    make_state(shift, transmitter)
    return transmitter


@pytest.fixture
def handover(shift: Person, plant: Transmitter) -> Handover:
    return record_handover(plant.station, "as it stood", "oil", by=shift, at=NOW).handover


def take(handover: Handover | None, by: Person) -> object:
    facts = {"qualification": "Q-7", "note": ""}
    return record_duty(by.station, handover, **facts, by=by, at=NOW)


class TestAssembled:
    def text(self, plant: Transmitter) -> str:
        return as_text(assemble(plant.station, NOW))

    @pytest.mark.need(18)
    def test_readings_that_a_change_of_wave_still_owes(
        self, shift: Person, plant: Transmitter, meter: Meter
    ) -> None:
        typed = {"frequency": "6105", "antenna": "A1", "power": "200/tap", "day": "2026-03-02"}
        signed_in(shift).post("/log/T1/wave", {**typed, "rf_on": "07:00"})
        assert "Readings to follow: Wave changed from 6105 kHz to 6105 kHz" in self.text(plant)
        make_round(shift, plant, {meter.code: "12"}, slot=SLOT + 2 * HOUR)
        assert "Readings to follow" not in self.text(plant)

    def test_state_permit_interruption_and_missed_rounds(
        self, plant: Transmitter, shift: Person
    ) -> None:
        make_permit(shift, plant)
        make_interruption(shift, plant, first_indicator="arc V1")
        text = self.text(plant)
        assert "on air, full power, 6105 kHz" in text
        assert "12, R. Ekstam, 1 earth sticks" in text
        assert "first indicator: arc V1" in text
        assert "Rounds missed, UTC: 05:00, 06:00, 07:00, 08:00" in text

    def test_what_is_to_be_re_read(self, plant: Transmitter, meter: Meter, shift: Person) -> None:
        row = make_round(shift, plant, {meter.code: "abc"})
        assert f"To be re-read: 1 value, entries {row.entry.no}" in self.text(plant)

    def test_changed_limits_and_the_next_three_starts(
        self, plant: Transmitter, meter: Meter, engineer: Person
    ) -> None:
        make_limit(meter, valid_from=NOW - HOUR, reason="new tube")
        lines = [
            ScheduleLine(
                station=plant.station,
                transmitter=plant,
                frequency_khz=6105.0,
                start_min=start * 60,
                stop_min=start * 60 + 30,
                days="1234567",
            )
            for start in (10, 12, 14, 16)
        ]
        since = NOW - 100 * HOUR
        take_schedule(plant.station, lines, effective_from=since, note="", by=engineer, at=since)
        text = self.text(plant)
        assert "new tube" in text
        assert "Next starts: 10:00 6105 kHz, 12:00 6105 kHz, 14:00 6105 kHz\n" in text + "\n"

    def test_without_the_analysis_it_is_said(
        self, plant: Transmitter, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(port, "remarks", lambda *span: None)
        monkeypatch.setattr(port, "is_provided", lambda: True)
        assert "Flags: judging not available" in self.text(plant)


class TestCountersign:
    def test_open_until_another_person_takes_over(
        self, handover: Handover, shift: Person, engineer: Person
    ) -> None:
        assert list(open_handovers(handover.station)) == [handover]
        take(handover, engineer)
        assert not open_handovers(handover.station).exists()
        assert duties(handover.station).first().entry.by == engineer

    @pytest.mark.need(1)
    def test_nobody_countersigns_their_own(self, handover: Handover, shift: Person) -> None:
        with pytest.raises(NotTheSecondPerson):
            take(handover, shift)
        assert not DutyTaken.objects.exists()

    def test_it_is_countersigned_once(self, handover: Handover, engineer: Person) -> None:
        take(handover, engineer)
        with pytest.raises(AlreadyTaken):
            take(handover, engineer)

    def test_struck_countersign_leaves_it_open(self, handover: Handover, engineer: Person) -> None:
        entry = take(handover, engineer)
        void_entry(entry, reason="by mistake", by=engineer, at=NOW)
        assert open_handovers(handover.station).exists()

    def test_chain_holds_what_they_say(self, handover: Handover, engineer: Person) -> None:
        take(handover, engineer)
        call_command("verify_log", stdout=StringIO())


@pytest.mark.need(83)
class TestPages:
    def test_shift_hands_over_and_the_next_one_signs(
        self, plant: Transmitter, shift: Person, engineer: Person
    ) -> None:
        signed_in(shift).post("/log/duty/hand-over", {"notes": "filter half cleaned"})
        row = Handover.objects.get()
        assert "on air, full power" in row.assembled
        page = signed_in(engineer).get("/log/duty/take-over").content.decode()
        assert "filter half cleaned" in page
        signed_in(engineer).post("/log/duty/take-over", {"qualification": "Q-7"})
        page = signed_in(shift).get("/log/duty").content.decode()
        assert "Q-7" in page
        assert "not countersigned" not in page

    def test_own_hand_over_is_not_signed(self, handover: Handover, shift: Person) -> None:
        page = signed_in(shift).post("/log/duty/take-over", {}, follow=True).content.decode()
        assert "the one who takes over countersigns it" in page
        assert "not countersigned" in page

    def test_first_duty_needs_no_hand_over(self, plant: Transmitter, shift: Person) -> None:
        signed_in(shift).post("/log/duty/take-over", {"qualification": "Q-1"})
        assert DutyTaken.objects.get().of is None

    def test_entry_shows_what_was_assembled(self, handover: Handover, viewer: Person) -> None:
        page = signed_in(viewer).get(f"/log/entry/{handover.entry.no}").content.decode()
        assert "as it stood" in page


@pytest.mark.need(50)
class TestUnstaffed:
    """The closing entry says as much as a relief face to face would."""

    LEFT = {"notes": "all off, keys in the safe", "until_day": "2026-03-03", "until_clock": "05:00"}

    def send(self, by: Person, **typed: str) -> str:
        form = {**self.LEFT, **typed}
        return signed_in(by).post("/log/duty/hand-over", form, follow=True).content.decode()

    def test_it_says_until_when_and_what_must_be_known(
        self, shift: Person, plant: Transmitter
    ) -> None:
        make_state(shift, plant, state="off", observed_at=NOW)
        assert "write what they must know" in self.send(shift, notes="")
        page = self.send(shift)
        assert "unstaffed" in page
        row = Handover.objects.get()
        assert f"{row.unstaffed_until:%Y-%m-%d %H:%M}" == "2026-03-03 05:00"
        assert "T1" in row.assembled
        call_command("verify_log", stdout=StringIO())

    def test_ht_left_on_is_asked_about(self, shift: Person, plant: Transmitter) -> None:
        assert "By the log HT is on: T1" in self.send(shift)
        assert not Handover.objects.exists()
        self.send(shift, meant="left-running")
        assert Handover.objects.count() == 1

    def test_past_and_half_an_instant_are_asked_about(
        self, shift: Person, plant: Transmitter
    ) -> None:
        assert "That is past" in self.send(shift, until_day="2026-03-01")
        assert "leave both blank" in self.send(shift, until_clock="")
        assert not Handover.objects.exists()

    def test_whoever_comes_first_opens_it_again(self, shift: Person, plant: Transmitter) -> None:
        """The same person too: nobody else was there."""
        self.send(shift, meant="left-running")
        row = Handover.objects.get()
        take(row, shift)
        assert not open_handovers(plant.station).exists()
