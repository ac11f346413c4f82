"""The page on which a round is typed, and the page of the saved round."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoAssertNumQueries

from logbook import port
from logbook.models import Correction, Entry, Reading, Round
from logbook.services.corrections import void_entry
from logbook.sheet_hints import Hint
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_limit, make_meter, make_round, make_state
from tests.people import signed_in

NOW = SLOT + timedelta(minutes=7)
PAGE = {
    "slot_day": "2026-03-02",
    "slot_clock": "06:00",
    "observed": "06:04",
    "kind": "routine",
    "modulation": "on",
    "client_key": "k1",
    "action": "save",
}
ADDRESS = "/log/T1/round"

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def client(shift: Person, transmitter: Transmitter, meter: Meter) -> Client:
    """The shift's browser, with a limited meter on an air that is known."""
    make_limit(meter)
    make_state(shift, transmitter)
    return signed_in(shift)


def save(client: Client, value: str = "12.4", **over: Any) -> Any:
    return client.post(ADDRESS, {**PAGE, "cell-v1_anode_current": value, **over}, follow=True)


def page_text(response: Any) -> str:
    return " ".join(response.content.decode().split())


class TestAccess:
    @pytest.mark.parametrize(
        ("who", "status"),
        [("shift", 200), ("engineer", 200), ("planner", 403), ("viewer", 403), ("outsider", 403)]
        + [("retired", 403), ("stranger", 404)],
    )
    def test_page_is_for_those_who_log(
        self, request: Any, transmitter: Transmitter, who: str, status: int
    ) -> None:
        assert signed_in(request.getfixturevalue(who)).get(ADDRESS).status_code == status

    def test_saved_round_of_another_station_is_not_found(
        self, client: Client, stranger: Person
    ) -> None:
        no = save(client).context["board"].row.entry.no
        assert signed_in(stranger).get(f"/log/round/{no}").status_code == 404

    def test_viewer_reads_a_saved_round_and_cannot_re_read(
        self, client: Client, viewer: Person
    ) -> None:
        no = save(client, "14.2").context["board"].row.entry.no
        reading = signed_in(viewer)
        assert "data-cell" not in page_text(reading.get(f"/log/round/{no}"))
        assert reading.post(f"/log/round/{no}/re-read").status_code == 403

    def test_huge_entry_number_is_not_found(self, client: Client) -> None:
        assert client.get(f"/log/round/{10**30}").status_code == 404

    def test_transmitter_that_is_not_there_is_not_found(self, client: Client) -> None:
        assert client.get("/log/T9/round").status_code == 404


class TestPage:
    @pytest.mark.need(8)
    def test_limits_of_the_operating_point_stand_beside_the_cell(self, client: Client) -> None:
        row = client.get(ADDRESS).context["board"].groups[0].rows[0]
        band = row.band
        assert (band.low_alarm, band.low_warning) == ("10.8", "11.6")
        assert (band.high_warning, band.high_alarm) == ("13.2", "14.0")

    def test_latest_due_slot_is_offered(self, client: Client) -> None:
        assert client.get(ADDRESS).context["board"].slot == SLOT

    @pytest.mark.need(28)
    @pytest.mark.case("C9")
    def test_repeated_local_hour_is_two_slots_with_their_offsets(self, client: Client) -> None:
        text = page_text(client.get(f"{ADDRESS}?slot=2026-10-25T00:00Z"))
        assert "00:00 UTC = 02:00 CEST (+0200)" in text
        assert "01:00 UTC = 02:00 CET (+0100)" in text

    @pytest.mark.need(4)
    def test_programme_is_the_transmitters_own(self, client: Client) -> None:
        Transmitter.objects.update(default_modulation="paused")
        assert client.get(ADDRESS).context["form"]["modulation"].value() == "paused"

    def test_last_three_rounds_stand_oldest_first(
        self, client: Client, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        for hours, value in ((4, "12.0"), (3, "12.2"), (2, "13.4"), (1, "12.6")):
            slot = SLOT - timedelta(hours=hours)
            make_round(shift, transmitter, {meter.code: value}, slot=slot)
        make_state(shift, transmitter, observed_at=SLOT - timedelta(hours=9), state="on_air")
        earlier = client.get(ADDRESS).context["board"].groups[0].rows[0].earlier
        assert [value.words for _column, value in earlier] == ["12.2", "13.4", "12.6"]
        assert [value.level for _column, value in earlier] == ["", "warning-high", ""]

    def test_unknown_operating_point_says_so(self, shift: Person, transmitter: Transmitter) -> None:
        assert signed_in(shift).get(ADDRESS).context["board"].point.state == "unknown"

    @pytest.mark.case("C4")
    def test_slot_that_is_held_already_says_so_before_typing(
        self, client: Client, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        no = make_round(shift, transmitter, {meter.code: "12.4"}).entry.no
        assert f"entry {no} by Shift Moor" in page_text(client.get(ADDRESS))

    def test_readings_and_limits_take_four_queries(
        self, client: Client, transmitter: Transmitter
    ) -> None:
        for number in range(30):
            make_limit(make_meter(transmitter, f"m{number}"))
        with CaptureQueriesContext(connection) as queries:
            client.get(ADDRESS)
        tables = ("logbook_reading", "station_limit", "station_normal", "station_instrument")
        froms = [f'FROM "{table}"' for table in tables]
        asked = [q for q in queries if any(one in q["sql"] for one in froms)]
        assert len(asked) <= 4

    @pytest.mark.parametrize(
        "slot", ["x", "0001-01-01T00:00Z", "9999-12-31T23:59Z", "\x00", "9" * 400]
    )
    def test_bad_slot_gives_the_one_that_is_due(self, client: Client, slot: str) -> None:
        response = client.get(ADDRESS, {"slot": slot})
        assert response.context["board"].slot == SLOT

    def test_silent_analysis_is_said(self, client: Client, monkeypatch: Any) -> None:
        monkeypatch.setattr(port, "is_provided", lambda: True)
        monkeypatch.setattr(port, "hints", lambda *_: None)
        assert "Judging not available" in page_text(client.get(ADDRESS))

    def test_expected_value_stands_beside_the_cell(self, client: Client, monkeypatch: Any) -> None:
        monkeypatch.setattr(port, "hints", lambda *_: {"v1_anode_current": Hint(12.4, 0.08, 0.32)})
        assert "expected 12.4 ± 0.08" in page_text(client.get(ADDRESS))


class TestCheck:
    def test_first_button_checks_and_saves_nothing(self, client: Client) -> None:
        response = client.post(
            ADDRESS, {**PAGE, "action": "check", "cell-v1_anode_current": "13.4"}
        )
        row = response.context["board"].groups[0].rows[0]
        assert (row.level, row.field.value()) == ("warning-high", "13.4")
        assert Round.objects.count() == 0

    def test_first_button_of_the_page_is_check(self, client: Client) -> None:
        text = page_text(client.get(ADDRESS))
        form = text[text.index("data-round") :]
        assert form.index('value="check"') < form.index('value="save"')

    def test_bad_time_keeps_everything_typed(self, client: Client) -> None:
        response = save(client, "13.4", observed="25:00")
        assert response.context["board"].groups[0].rows[0].field.value() == "13.4"
        assert Round.objects.count() == 0


class TestSave:
    @pytest.mark.need(1)
    def test_entry_names_who_wrote_it_and_when(self, client: Client, shift: Person) -> None:
        entry = save(client).context["board"].row.entry
        assert (entry.by, entry.name_as_written) == (shift, "Shift Moor")
        assert entry.entered_at == NOW

    @pytest.mark.need(2)
    @pytest.mark.case("C5")
    def test_late_round_keeps_its_slot_and_takes_the_limits_of_its_own_time(
        self, client: Client, shift: Person, transmitter: Transmitter
    ) -> None:
        make_state(shift, transmitter, observed_at=SLOT + timedelta(minutes=30), state="standby")
        with time_machine.travel(SLOT + timedelta(minutes=50), tick=False):
            board = save(client, "0", observed="06:40").context["board"]
        assert (board.row.slot, board.late_minutes) == (SLOT, 40)
        assert board.point.state == "standby"
        assert board.by_meter == ()

    @pytest.mark.need(6)
    def test_blank_cells_are_counted_and_are_no_readings(
        self, client: Client, transmitter: Transmitter
    ) -> None:
        make_meter(transmitter, "v2_anode_current")
        response = save(client)
        assert "1 of 2 meters was left blank: no reading, not zero." in page_text(response)
        assert Reading.objects.count() == 1

    @pytest.mark.need(10)
    @pytest.mark.case("C22")
    def test_above_full_scale_is_kept_as_typed_and_the_rest_is_saved(
        self, client: Client, transmitter: Transmitter
    ) -> None:
        make_meter(transmitter, "v2_anode_current")
        board = save(client, "44", **{"cell-v2_anode_current": "12.4"}).context["board"]
        assert [cell.words for cell in board.cells] == ["44", "12.4"]
        [asked] = board.by_meter
        assert "outside the scale" in asked.looks[0].sentence

    @pytest.mark.case("C6")
    def test_zeros_on_air_ask_about_the_state(
        self, client: Client, transmitter: Transmitter
    ) -> None:
        make_meter(transmitter, "v2_anode_current")
        response = save(client, "0", **{"cell-v2_anode_current": "0"})
        board = response.context["board"]
        assert (len(board.about_state), board.by_meter) == (1, ())
        assert "The state is &#x27;on air, full power&#x27;" in page_text(response)

    @pytest.mark.need(87)
    def test_change_of_state_in_mid_round_splits_it(
        self, client: Client, shift: Person, transmitter: Transmitter
    ) -> None:
        make_limit(make_meter(transmitter, "late_meter", panel_group="Late"))
        make_state(shift, transmitter, observed_at=SLOT + timedelta(minutes=5), state="standby")
        board = save(client, "13.4", **{"cell-late_meter": "0", "seen-1": "06:06"}).context["board"]
        assert [cell.level for cell in board.cells] == ["warning-high", "no-reference"]

    def test_two_presses_save_once(self, client: Client) -> None:
        save(client)
        response = save(client)
        assert "not saved twice" in page_text(response)
        assert Round.objects.count() == 1

    @pytest.mark.case("C30")
    def test_second_set_for_a_slot_is_kept_and_the_page_leads_to_the_choice(
        self, client: Client, engineer: Person
    ) -> None:
        save(client)
        response = save(signed_in(engineer), "12.6", client_key="k2")
        no = response.context["board"].row.entry.no
        assert f"/log/entry/{no}/choose" in page_text(response)
        assert Reading.objects.current().get().value == 12.4

    @pytest.mark.parametrize("kind", ["as_found", "as_left", "extra"])
    def test_other_kinds_are_no_duplicates(self, client: Client, kind: str) -> None:
        save(client)
        row = save(client, client_key="k2", kind=kind).context["board"].row
        assert (row.kind, row.duplicate_of) == (kind, None)

    @pytest.mark.parametrize(
        "over",
        [{"kind": "x"}, {"modulation": "\x00"}, {"client_key": "k" * 300}, {"observed": ["a", "b"]}]
        + [{"slot_day": ""}, {"slot_clock": "99"}, {"meant": "x" * 5000}, {"seen-0": "25:00"}],
    )
    def test_bad_field_gets_the_page_again(self, client: Client, over: dict[str, Any]) -> None:
        assert save(client, **over).status_code == 200
        assert Round.objects.count() == 0

    def test_nothing_but_the_button_is_the_page_again(self, client: Client) -> None:
        assert client.post(ADDRESS, {"action": "save"}).status_code == 200


@pytest.mark.need(9)
class TestReRead:
    def re_read(self, client: Client, value: str, **over: Any) -> Any:
        row = Round.objects.get()
        page = {"after": row.entry.corrections.count(), "cell-v1_anode_current": value, **over}
        return client.post(f"/log/round/{row.entry.no}/re-read", page, follow=True)

    def test_same_value_again_is_confirmed(self, client: Client) -> None:
        save(client, "14.2")
        board = self.re_read(client, "14,2").context["board"]
        assert board.cells[0].is_confirmed
        assert board.by_meter == ()

    def test_other_value_becomes_a_correction_and_the_first_stays_readable(
        self, client: Client
    ) -> None:
        save(client, "14.2")
        self.re_read(client, "12.4")
        assert Reading.objects.current().get().value == 12.4
        assert Reading.objects.get(ended_by__isnull=False).value == 14.2
        assert Correction.objects.get().reason == "re-read"

    def test_blank_stays_as_it_is(self, client: Client) -> None:
        save(client, "14.2")
        self.re_read(client, "")
        assert Correction.objects.count() == 0

    @pytest.mark.need(11)
    def test_taken_offer_is_written_and_what_was_typed_stays_readable(self, client: Client) -> None:
        """13.13 on a step of 0.2 A: the nearest mark is 13.2."""
        save(client, "13.13")
        self.re_read(client, "", take="v1_anode_current")
        assert Reading.objects.current().get().value == 13.2
        assert Reading.objects.get(ended_by__isnull=False).value == 13.13

    def test_text_does_not_push_a_number_out(self, client: Client) -> None:
        save(client, "14.2")
        response = self.re_read(client, "abc")
        assert "is not a number" in page_text(response)
        assert Correction.objects.count() == 0

    def test_page_sent_twice_confirms_nothing(self, client: Client) -> None:
        save(client, "14.2")
        self.re_read(client, "13.4", after=0)
        self.re_read(client, "13.4", after=0)
        assert Reading.objects.current().get().mark == ""

    @pytest.mark.parametrize(
        "over", [{"after": "9" * 30}, {"after": "x"}, {"take": ["\x00", "v9"]}]
    )
    def test_bad_field_writes_nothing(self, client: Client, over: dict[str, Any]) -> None:
        save(client, "14.2")
        assert self.re_read(client, "12.4", **over).status_code == 200
        assert Correction.objects.count() == 0

    def test_round_that_was_struck_meanwhile_is_left_alone(
        self, client: Client, engineer: Person
    ) -> None:
        save(client, "14.2")
        void_entry(Entry.objects.get(kind="round"), reason="x", by=engineer, at=NOW)
        assert self.re_read(client, "12.4").status_code == 200
        assert Correction.objects.count() == 1


class TestTransmitters:
    def test_each_transmitter_shows_where_it_stands(self, client: Client) -> None:
        [line] = client.get("/log/").context["lines"]
        assert (line.point.state, line.point.wave) == ("on air, full power", "6105 kHz")

    def test_ten_transmitters_take_the_queries_of_one(
        self, client: Client, station: Any, django_assert_max_num_queries: DjangoAssertNumQueries
    ) -> None:
        with CaptureQueriesContext(connection) as of_one:
            client.get("/log/")
        for number in range(2, 11):
            Transmitter.objects.create(
                station=station, code=f"T{number}", name="x", full_power_kw=100
            )
        with django_assert_max_num_queries(len(of_one)):
            client.get("/log/")
