"""Entries read whole, and the pages that correct them."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from logbook.bodies import stored_bodies
from logbook.frames import standing_points
from logbook.ledger import verify
from logbook.models import Correction, Entry, Reading, Round
from logbook.points import point_at
from logbook.services.corrections import correct_values, void_entry
from logbook.services.remarks import record_remark
from logbook.times import minute_of
from station.models import Meter, Person, Transmitter
from tests.make import (
    SLOT,
    make_limit,
    make_meter,
    make_round,
    make_state,
    make_transmitter,
    make_wave,
    typed_for,
)
from tests.people import make_person, signed_in

NOW = SLOT + timedelta(hours=3)
CODE = "v1_anode_current"

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, meter: Meter) -> Transmitter:
    make_limit(meter)
    make_state(shift, transmitter)
    return transmitter


@pytest.fixture
def row(plant: Transmitter, shift: Person) -> Round:
    """A round of the shift with a slip in it."""
    return make_round(shift, plant, {CODE: "1.24"})


@pytest.fixture
def client(shift: Person) -> Client:
    return signed_in(shift)


def address(entry: Entry, way: str = "correct") -> str:
    return f"/log/entry/{entry.no}/{way}"


def text_of(response: Any) -> str:
    return " ".join(response.content.decode().split())


def values_page(**over: str) -> dict[str, str]:
    return {"seen": "0", "reason": "decimal slip", f"new-{CODE}": "12.4", **over}


def is_chain_whole(plant: Transmitter) -> bool:
    return list(verify(plant.station, stored_bodies(plant.station))) == []


class TestEntry:
    def test_round_is_read_whole(self, row: Round, viewer: Person) -> None:
        shown = text_of(signed_in(viewer).get(f"/log/entry/{row.entry.no}"))
        for words in ("v1 anode current", "1.24", "Shift Moor", "2026-03-02 07:00 CET"):
            assert words in shown
        assert bytes(row.entry.digest).hex()[:16] in shown

    @pytest.mark.need(52)
    def test_correction_shows_what_it_struck_and_brought(
        self, row: Round, shift: Person, meter: Meter, client: Client
    ) -> None:
        done = correct_values(
            row, {meter: typed_for(meter, "12.4")}, reason="decimal slip", by=shift, at=NOW
        )
        shown = text_of(client.get(f"/log/entry/{done.entry.no}"))
        assert "<del>1.24</del>" in shown
        assert "12.4" in shown
        assert "decimal slip" in shown

    def test_state_and_remark_are_shown_in_words(
        self, plant: Transmitter, shift: Person, client: Client
    ) -> None:
        remark = record_remark(
            "fan noisy",
            station=plant.station,
            transmitter=plant,
            observed_at=SLOT,
            by=shift,
            at=NOW,
        )
        assert "on air, full power, 6105 kHz" in text_of(client.get("/log/entry/1"))
        assert "fan noisy" in text_of(client.get(f"/log/entry/{remark.entry.no}"))

    @pytest.mark.need(76)
    @pytest.mark.parametrize(
        ("who", "status"), [("viewer", 200), ("planner", 200), ("stranger", 404), ("outsider", 403)]
    )
    def test_page_is_for_those_who_read(
        self, request: Any, row: Round, who: str, status: int
    ) -> None:
        client = signed_in(request.getfixturevalue(who))
        assert client.get(f"/log/entry/{row.entry.no}").status_code == status

    @pytest.mark.parametrize("no", ["0", "99", "9" * 30])
    def test_number_without_an_entry_is_not_found(
        self, row: Round, client: Client, no: str
    ) -> None:
        assert client.get(f"/log/entry/{no}").status_code == 404


@pytest.mark.need(52)
@pytest.mark.case("C23")
class TestWhoMayCorrect:
    @pytest.mark.parametrize("way", ["correct", "anew", "void"])
    @pytest.mark.parametrize(
        ("who", "status"),
        [("shift", 200), ("engineer", 200), ("planner", 403), ("viewer", 403)]
        + [("retired", 403), ("outsider", 403), ("stranger", 404)],
    )
    def test_author_and_engineer_may(
        self, request: Any, row: Round, way: str, who: str, status: int
    ) -> None:
        client = signed_in(request.getfixturevalue(who))
        assert client.get(address(row.entry, way)).status_code == status

    def test_another_of_the_shift_may_not_and_is_told_who_may(self, row: Round) -> None:
        other = signed_in(make_person("other", "shift", station=row.station))
        assert other.post(address(row.entry), values_page()).status_code == 403
        shown = text_of(other.get(f"/log/entry/{row.entry.no}"))
        assert "Only Shift Moor, who wrote it, and the engineer may correct it" in shown
        assert not Correction.objects.exists()


@pytest.mark.need(52)
class TestCorrectValues:
    def test_new_value_stands_and_the_old_stays_struck(
        self, row: Round, client: Client, shift: Person
    ) -> None:
        shown = text_of(client.post(address(row.entry), values_page(), follow=True))
        correction = Correction.objects.get()
        assert (correction.reason, correction.entry.by) == ("decimal slip", shift)
        assert correction.entry.entered_at == NOW
        assert f"<del>1.24</del><sup>{correction.entry.no}</sup> 12.4" in shown
        assert is_chain_whole(row.entry.transmitter)

    def test_missing_reason_is_asked_for_at_its_field(self, row: Round, client: Client) -> None:
        response = client.post(address(row.entry), values_page(reason=" "))
        assert response.context["form"].errors.keys() == {"reason"}
        assert 'value="12.4"' in text_of(response)
        assert not Correction.objects.exists()

    def test_value_taken_out_leaves_no_reading(self, row: Round, client: Client) -> None:
        page = {"seen": "0", "reason": "not read", f"out-{CODE}": "on"}
        client.post(address(row.entry), page)
        assert not Reading.objects.current().filter(round=row).exists()

    def test_meter_left_blank_may_be_given_its_value(
        self, plant: Transmitter, row: Round, client: Client
    ) -> None:
        make_meter(plant, "v2_anode_current")
        page = {"seen": "0", "reason": "left out", "new-v2_anode_current": "12.2"}
        client.post(address(row.entry), page)
        current = Reading.objects.current().filter(round=row).order_by("meter__sheet_order")
        assert [reading.value for reading in current] == [1.24, 12.2]

    @pytest.mark.parametrize("text", ["abc", "50", "12 kV", "\u0662\u0668"])
    def test_what_is_no_reading_is_refused_at_its_field(
        self, row: Round, client: Client, text: str
    ) -> None:
        form = client.post(address(row.entry), values_page(**{f"new-{CODE}": text})).context["form"]
        assert form.errors.keys() == {f"new-{CODE}"}
        assert "from 0 to 20 A" in form.errors[f"new-{CODE}"][0]

    @pytest.mark.case("C22")
    def test_off_scale_is_taken_with_its_bound(self, row: Round, client: Client) -> None:
        client.post(address(row.entry), values_page(**{f"new-{CODE}": ">20"}))
        reading = Reading.objects.current().get(round=row)
        assert (reading.value, reading.bound) == (20.0, ">")

    def test_page_without_a_change_says_so(self, row: Round, client: Client) -> None:
        form = client.post(address(row.entry), {"seen": "0", "reason": "x"}).context["form"]
        assert "Nothing would change" in form.non_field_errors()[0]

    def test_new_value_and_taking_out_together_are_asked_about(
        self, row: Round, client: Client
    ) -> None:
        page = values_page(**{f"out-{CODE}": "on"})
        form = client.post(address(row.entry), page).context["form"]
        assert form.errors.keys() == {f"new-{CODE}"}

    def test_page_older_than_a_correction_shows_what_stands_now(
        self, row: Round, client: Client, shift: Person, meter: Meter
    ) -> None:
        correct_values(row, {meter: typed_for(meter, "12.6")}, reason="slip", by=shift, at=NOW)
        response = client.post(address(row.entry), values_page())
        assert "Somebody corrected this round meanwhile" in text_of(response)
        assert "12.6" in text_of(response)
        assert Correction.objects.count() == 1

    def test_correction_may_be_corrected(
        self, row: Round, client: Client, shift: Person, meter: Meter
    ) -> None:
        first = correct_values(row, {meter: typed_for(meter, "12.6")}, reason="s", by=shift, at=NOW)
        response = client.get(address(first.entry))
        assert response.headers["Location"] == address(row.entry)
        client.post(address(row.entry), values_page(seen=str(first.entry.no)))
        assert Reading.objects.current().get(round=row).value == 12.4

    def test_struck_entry_shows_what_stands(
        self, row: Round, client: Client, shift: Person
    ) -> None:
        void_entry(row.entry, reason="wrong day", by=shift, at=NOW)
        response = client.post(address(row.entry), values_page())
        assert response.status_code == 409
        assert "no longer stands" in text_of(response)


def anew_page(**over: str) -> dict[str, str]:
    return {
        "transmitter": "T1",
        "slot_day": "2026-03-02",
        "slot_clock": "06:00",
        "seen_day": "2026-03-02",
        "seen_clock": "06:04",
        "modulation": "on",
        "reason": "one row off",
        **over,
    }


class TestWriteAnew:
    @pytest.mark.case("C4")
    def test_round_moves_to_its_slot_and_the_original_is_struck(
        self, row: Round, client: Client
    ) -> None:
        client.post(address(row.entry, "anew"), anew_page(slot_clock="07:00", seen_clock="07:04"))
        anew = Round.objects.get(entry__in_place_of=row.entry)
        row.entry.refresh_from_db()
        assert anew.slot == SLOT + timedelta(hours=1)
        assert row.entry.ended_by.correction.reason == "one row off"
        assert [r.minute for r in anew.readings.current()] == [
            minute_of(SLOT + timedelta(minutes=64))
        ]
        assert is_chain_whole(row.entry.transmitter)

    @pytest.mark.case("C4")
    def test_slot_that_is_held_makes_a_duplicate_to_choose(
        self, row: Round, client: Client, plant: Transmitter, shift: Person
    ) -> None:
        make_round(shift, plant, {CODE: "12.4"}, slot=SLOT + timedelta(hours=1))
        page = anew_page(slot_clock="07:00")
        response = client.post(address(row.entry, "anew"), page, follow=True)
        anew = Round.objects.get(entry__in_place_of=row.entry)
        assert anew.duplicate_of_id is not None
        assert response.redirect_chain[-1][0] == address(anew.entry, "choose")

    def test_other_transmitter_takes_the_meters_of_the_same_code(
        self, row: Round, client: Client, plant: Transmitter
    ) -> None:
        other = make_transmitter(station=plant.station, code="T2")
        place = make_meter(other, CODE)
        client.post(address(row.entry, "anew"), anew_page(transmitter="T2"))
        assert [r.value for r in Reading.objects.current().filter(meter=place)] == [1.24]

    def test_meter_without_a_place_is_asked_about_before_it_is_saved(
        self, row: Round, client: Client, plant: Transmitter
    ) -> None:
        make_transmitter(station=plant.station, code="T2")
        page = anew_page(transmitter="T2")
        shown = text_of(client.post(address(row.entry, "anew"), page))
        assert "T2 has no meter for: v1 anode current" in shown
        assert not Correction.objects.exists()
        client.post(address(row.entry, "anew"), {**page, "meant": "without:T2"})
        assert Round.objects.get(entry__in_place_of=row.entry).entry.transmitter.code == "T2"

    def test_time_that_has_not_come_is_asked_about(self, row: Round, client: Client) -> None:
        page = anew_page(seen_clock="23:00")
        assert "has not come yet" in text_of(client.post(address(row.entry, "anew"), page))
        client.post(address(row.entry, "anew"), {**page, "meant": "future:2026-03-02T23:00"})
        assert Round.objects.filter(entry__in_place_of=row.entry).exists()

    def test_page_without_a_change_says_so(self, row: Round, client: Client) -> None:
        form = client.post(address(row.entry, "anew"), anew_page()).context["form"]
        assert "Nothing would change" in form.non_field_errors()[0]

    def test_duplicate_of_a_struck_round_counts_when_written_anew(
        self, row: Round, client: Client, plant: Transmitter, shift: Person
    ) -> None:
        second = make_round(shift, plant, {CODE: "12.4"})
        void_entry(row.entry, reason="slip", by=shift, at=NOW)
        client.post(address(second.entry, "anew"), anew_page(seen_clock="06:05"))
        anew = Round.objects.get(entry__in_place_of=second.entry)
        assert anew.duplicate_of_id is None
        assert [reading.value for reading in anew.readings.current()] == [12.4]


class TestVoid:
    @pytest.mark.need(52)
    def test_struck_entry_names_its_reason_and_stays_readable(
        self, row: Round, client: Client
    ) -> None:
        page = {"reason": "wrong day"}
        shown = text_of(client.post(address(row.entry, "void"), page, follow=True))
        for words in ("struck", "wrong day", "1.24"):
            assert words in shown
        assert not Reading.objects.current().exists()

    def test_missing_reason_strikes_nothing(self, row: Round, client: Client) -> None:
        response = client.post(address(row.entry, "void"), {"reason": ""})
        assert "Write the reason" in text_of(response)
        assert not Correction.objects.exists()

    def test_remark_is_struck_not_rewritten(
        self, plant: Transmitter, shift: Person, client: Client
    ) -> None:
        remark = record_remark(
            "fan noisy",
            station=plant.station,
            transmitter=plant,
            observed_at=SLOT,
            by=shift,
            at=NOW,
        )
        way = client.get(address(remark.entry)).headers["Location"]
        client.post(way, {"reason": "wrong set"})
        remark.entry.refresh_from_db()
        assert remark.entry.ended_by.correction.reason == "wrong set"


class TestCorrectState:
    def page(self, **over: str) -> dict[str, str]:
        stated = {"state": "on_air", "frequency": "6105", "antenna": "A1", "power": "200"}
        time = {"day": "2026-03-02", "observed": "05:00", "set_by": "tap", "is_retune": "on"}
        return {**stated, **time, "why": "wrong wave", **over}

    def point(self, plant: Transmitter) -> Any:
        return point_at(standing_points(plant), minute_of(SLOT))

    @pytest.mark.case("C13")
    def test_corrected_wave_moves_the_readings_after_it(
        self, plant: Transmitter, row: Round, client: Client
    ) -> None:
        make_wave(plant, 9690.0)
        client.post("/log/entry/1/correct", self.page(frequency="9690"))
        assert self.point(plant).frequency_khz == 9690.0
        shown = text_of(client.get("/log/T1/day/2026-03-02"))
        assert "9690 kHz, 200 kW" in shown
        assert "<del>on air, full power, 6105 kHz" in shown
        assert is_chain_whole(plant)

    def test_fields_hold_what_the_entry_says(self, plant: Transmitter, client: Client) -> None:
        form = client.get("/log/entry/1/correct").context["form"]
        said = {name: form[name].value() for name in ("state", "frequency", "antenna", "power")}
        assert said == {"state": "on_air", "frequency": "6105", "antenna": "A1", "power": "200"}

    def test_emptied_field_states_nothing(self, plant: Transmitter, client: Client) -> None:
        client.post("/log/entry/1/correct", self.page(power="", set_by=""))
        assert self.point(plant).power_kw is None

    def test_time_is_corrected(self, plant: Transmitter, client: Client) -> None:
        client.post("/log/entry/1/correct", self.page(observed="05:30"))
        assert self.point(plant).since == SLOT - timedelta(minutes=30)

    def test_missing_reason_is_asked_for_at_its_field(
        self, plant: Transmitter, client: Client
    ) -> None:
        page = self.page(power="120", why="")
        assert "why" in client.post("/log/entry/1/correct", page).context["form"].errors
        assert not Correction.objects.exists()

    def test_page_without_a_change_says_so(self, plant: Transmitter, client: Client) -> None:
        form = client.post("/log/entry/1/correct", self.page()).context["form"]
        assert "Nothing would change" in form.non_field_errors()[0]

    @pytest.mark.case("C12")
    def test_odd_wave_is_asked_about_before_it_is_saved(
        self, plant: Transmitter, client: Client
    ) -> None:
        page = self.page(frequency="6107")
        form = client.post("/log/entry/1/correct", page).context["form"]
        assert "frequency" in form.errors
        client.post("/log/entry/1/correct", {**page, "meant": form.names_asked})
        assert self.point(plant).frequency_khz == 6107.0


@pytest.mark.case("C30")
class TestChooseRound:
    @pytest.fixture
    def second(self, plant: Transmitter, row: Round, engineer: Person) -> Round:
        return make_round(engineer, plant, {CODE: "12.4"})

    def choose(self, client: Client, row: Round, no: int) -> Any:
        page = {"chosen": str(no), "reason": "the paper sheet"}
        return client.post(address(row.entry, "choose"), page, follow=True)

    def test_both_sets_stand_side_by_side(self, row: Round, second: Round, viewer: Person) -> None:
        for one in (row, second):
            shown = text_of(signed_in(viewer).get(address(one.entry, "choose")))
            assert "1.24" in shown
            assert "12.4" in shown
            assert "differs" in shown

    def test_chosen_duplicate_counts_and_the_other_stays_readable(
        self, row: Round, second: Round, client: Client
    ) -> None:
        shown = text_of(self.choose(client, row, second.entry.no))
        assert [r.value for r in Reading.objects.current()] == [12.4]
        assert "<del>1.24</del>" in shown
        assert Correction.objects.get().reason == "the paper sheet"

    def test_kept_round_strikes_the_duplicate(
        self, row: Round, second: Round, client: Client
    ) -> None:
        self.choose(client, row, row.entry.no)
        second.entry.refresh_from_db()
        assert second.entry.ended_by.correction.reason == "the paper sheet"
        assert [r.value for r in Reading.objects.current()] == [1.24]

    def test_only_who_may_correct_the_counting_round_may_choose(
        self, row: Round, second: Round
    ) -> None:
        other = signed_in(make_person("other", "shift", station=row.station))
        shown = text_of(self.choose(other, row, second.entry.no))
        assert "Only Shift Moor" in shown
        assert not Correction.objects.exists()

    def test_reason_is_asked_for(self, row: Round, second: Round, client: Client) -> None:
        page = {"chosen": str(second.entry.no), "reason": ""}
        response = client.post(address(row.entry, "choose"), page)
        assert response.context["form"].errors.keys() == {"reason"}

    def test_unknown_choice_is_asked_again(self, row: Round, second: Round, client: Client) -> None:
        assert "chosen" in self.choose(client, row, 999).context["form"].errors

    def test_single_round_leaves_nothing_to_choose(self, row: Round, client: Client) -> None:
        assert "nothing to choose" in text_of(client.get(address(row.entry, "choose")))

    def test_state_is_no_round(self, plant: Transmitter, client: Client) -> None:
        assert client.get("/log/entry/1/choose").status_code == 404

    def test_duplicate_is_corrected_by_choosing(
        self, row: Round, second: Round, engineer: Person
    ) -> None:
        response = signed_in(engineer).post(address(second.entry), values_page())
        assert response.headers["Location"] == address(second.entry, "choose")
