"""The page of a change of state: it asks, it never refuses, and it writes only what differs."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from logbook.models import StateChange
from station.models import CoilSet, Person, PowerLevel, Transmitter
from tests.make import SLOT, make_antenna, make_state, make_wave
from tests.people import signed_in

NOW = SLOT + timedelta(minutes=7)
PAGE = {"day": "2026-03-02", "observed": "06:05", "client_key": "k1"}
ADDRESS = "/log/T1/state"

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def client(shift: Person, transmitter: Transmitter) -> Client:
    """The shift's browser; T1 is on air, 6105 kHz on A1, 200 kW by tap, since 05:00."""
    make_state(shift, transmitter)
    return signed_in(shift)


def save(client: Client, **over: Any) -> Any:
    return client.post(ADDRESS, {**PAGE, **over})


def newest() -> StateChange:
    return StateChange.objects.order_by("-entry__no").first()


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


@pytest.mark.need(14)
class TestState:
    def test_usual_move_is_written_and_leads_back_to_the_round(
        self, client: Client, shift: Person
    ) -> None:
        response = save(client, state="standby", back="2026-03-02T06:00Z")
        assert response.headers["Location"] == "/log/T1/round?slot=2026-03-02T06:00Z"
        assert (newest().state, newest().entry.by) == ("standby", shift)

    def test_only_what_differs_is_written(self, client: Client) -> None:
        save(client, state="reduced", frequency="6105", antenna="A1", power="120 kW")
        change = newest()
        assert (change.state, change.power_kw) == ("reduced", 120.0)
        assert (change.frequency_khz, change.antenna, change.set_by) == (None, None, "")

    def test_nothing_that_differs_is_said_and_not_written(self, client: Client) -> None:
        assert "Nothing differs" in page_text(save(client, state="on_air"))
        assert StateChange.objects.count() == 1

    def test_retune_alone_begins_a_run(self, client: Client) -> None:
        save(client, is_retune="on")
        assert newest().is_retune

    def test_unusual_move_is_asked_about_first(self, client: Client) -> None:
        text = page_text(save(client, state="warming", reason="told by phone"))
        assert "usual next are" in text
        assert StateChange.objects.count() == 1

    def test_unusual_move_is_written_when_it_is_so_and_why(self, client: Client) -> None:
        save(client, state="warming", meant="move:on_air:warming", reason="told by phone")
        assert (newest().state, newest().reason) == ("warming", "told by phone")

    def test_unusual_move_without_its_reason_asks_for_it(self, client: Client) -> None:
        response = save(client, state="warming", meant="move:on_air:warming")
        assert set(response.context["form"].errors) == {"reason"}

    def test_answer_to_another_question_does_not_count(self, client: Client) -> None:
        save(client, state="warming", meant="move:on_air:off", reason="x")
        assert StateChange.objects.count() == 1

    def test_missing_steps_are_written_as_estimated(self, client: Client) -> None:
        """On air to warming by usual moves: standby, black heat, warming."""
        over = {"meant": "move:on_air:warming", "reason": "x", "is_estimating": "on"}
        save(client, state="warming", **over)
        written = StateChange.objects.order_by("entry__no")[1:]
        assert [(one.state, one.is_estimated) for one in written] == [
            ("standby", True),
            ("black_heat", True),
            ("warming", False),
        ]

    def test_two_presses_save_once(self, client: Client) -> None:
        save(client, state="standby")
        save(client, state="standby")
        assert StateChange.objects.count() == 2


class TestTime:
    def test_back_dated_change_is_told_from_what_stood_then(self, client: Client) -> None:
        save(client, state="off", observed="04:00")
        assert newest().entry.observed_at == SLOT - timedelta(hours=2)

    def test_time_that_has_not_come_is_asked_about(self, client: Client) -> None:
        response = save(client, state="standby", observed="07:00")
        assert set(response.context["form"].errors) == {"observed"}

    def test_time_that_has_not_come_is_written_when_it_is_so(self, client: Client) -> None:
        save(client, state="standby", observed="07:00", meant="future:20260302T0700")
        assert newest().entry.observed_at == SLOT + timedelta(hours=1)


@pytest.mark.need(22)
class TestWave:
    @pytest.mark.case("C12")
    def test_mhz_is_asked_and_the_khz_offered(self, client: Client) -> None:
        response = save(client, frequency="6.110")
        assert response.context["form"].offers == ["6110"]
        assert "did you mean 6110 kHz?" in page_text(response)

    @pytest.mark.case("C12")
    def test_offer_taken_is_written(self, client: Client) -> None:
        save(client, frequency="6.110", take="6110")
        assert newest().frequency_khz == 6110.0

    @pytest.mark.case("C26")
    @pytest.mark.parametrize("text", ["abc", "6 MHz", "-5", "0", "nan", "inf", "9" * 39, "٦١٠٥"])
    def test_what_is_no_frequency_gets_a_sentence(self, client: Client, text: str) -> None:
        assert set(save(client, frequency=text).context["form"].errors) == {"frequency"}

    def test_coil_set_comes_with_the_registered_wave(
        self, client: Client, transmitter: Transmitter
    ) -> None:
        own = {"station": transmitter.station, "transmitter": transmitter}
        make_wave(transmitter, 9690.0, coil_set=CoilSet.objects.create(**own, code="2"))
        save(client, frequency="9690")
        assert newest().coil_set.code == "2"

    @pytest.mark.need(21)
    @pytest.mark.case("C12")
    def test_antenna_that_does_not_suit_asks_for_a_reason(
        self, client: Client, transmitter: Transmitter
    ) -> None:
        make_antenna(transmitter.station, "A2", low_khz=9000, high_khz=12000)
        response = save(client, antenna="A2")
        assert set(response.context["form"].errors) == {"antenna"}
        save(client, antenna="A2", meant="antenna:A2:6105", reason="test of the switch")
        assert newest().antenna.code == "A2"

    def test_power_of_one_way_alone_brings_how_it_is_set(
        self, client: Client, transmitter: Transmitter
    ) -> None:
        own = {"station": transmitter.station, "transmitter": transmitter}
        PowerLevel.objects.create(**own, power_kw=150, set_by="coupling")
        save(client, power="150")
        assert newest().set_by == "coupling"


class TestBadInput:
    @pytest.mark.parametrize(
        "over",
        [{"state": "\x00"}, {"antenna": "9" * 30}, {"coil_set": "x"}, {"power": "1e309"}]
        + [{"day": "0001-01-01"}, {"day": "9999-12-31"}, {"observed": ""}, {"reason": "x" * 5000}]
        + [{"client_key": "k" * 99}, {"meant": "m" * 999}, {"back": "b" * 99}, {"take": "\x00"}],
    )
    def test_bad_field_gets_the_page_again(self, client: Client, over: dict[str, Any]) -> None:
        assert save(client, **over).status_code == 200
        assert StateChange.objects.count() == 1

    def test_first_change_of_all_needs_nothing_before_it(
        self, shift: Person, transmitter: Transmitter
    ) -> None:
        save(signed_in(shift), state="on_air")
        assert newest().state == "on_air"
