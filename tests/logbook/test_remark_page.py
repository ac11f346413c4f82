"""Writing a remark about a transmitter or an entry."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from logbook.models import Remark
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_round
from tests.people import signed_in

NOW = SLOT + timedelta(hours=3)
PAGE = {"text": "fan noisy", "day": "2026-03-02", "clock": "08:30"}

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def client(shift: Person, transmitter: Transmitter) -> Client:
    return signed_in(shift)


@pytest.mark.need(12)
class TestRemark:
    def test_remark_has_its_own_time_its_name_and_its_typing_time(
        self, client: Client, shift: Person, transmitter: Transmitter
    ) -> None:
        client.post("/log/T1/remark", PAGE)
        entry = Remark.objects.get().entry
        assert entry.observed_at == SLOT + timedelta(hours=2, minutes=30)
        assert (entry.entered_at, entry.by, entry.transmitter) == (NOW, shift, transmitter)

    def test_page_begins_with_the_present_time(self, client: Client) -> None:
        form = client.get("/log/T1/remark").context["form"]
        assert f"{form['clock'].value():%H:%M}" == "09:00"

    @pytest.mark.need(7)
    def test_page_asked_from_a_missed_slot_begins_with_it(self, client: Client) -> None:
        form = client.get("/log/T1/remark", {"at": "2026-03-02T06:00Z"}).context["form"]
        assert f"{form['clock'].value():%H:%M}" == "06:00"

    def test_empty_text_is_asked_for_at_its_field(self, client: Client) -> None:
        form = client.post("/log/T1/remark", {**PAGE, "text": "  "}).context["form"]
        assert form.errors.keys() == {"text"}

    @pytest.mark.parametrize("over", [{"day": "2026-02-30"}, {"clock": "25:61"}, {"text": "a\0b"}])
    def test_bad_input_is_said_at_its_field(self, client: Client, over: dict[str, str]) -> None:
        form = client.post("/log/T1/remark", {**PAGE, **over}).context["form"]
        assert form.errors.keys() == over.keys()
        assert not Remark.objects.exists()

    def test_time_that_has_not_come_is_asked_about(self, client: Client) -> None:
        page = {**PAGE, "clock": "10:00"}
        assert "has not come yet" in client.post("/log/T1/remark", page).content.decode()
        client.post("/log/T1/remark", {**page, "meant": "future:2026-03-02T10:00"})
        assert Remark.objects.get().entry.observed_at == SLOT + timedelta(hours=4)

    def test_remark_about_an_entry_stands_on_its_page(
        self, client: Client, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        entry = make_round(shift, transmitter, {meter.code: "12.4"}).entry
        client.post(f"/log/entry/{entry.no}/remark", PAGE)
        assert Remark.objects.get().about == entry
        assert "fan noisy" in client.get(f"/log/entry/{entry.no}").content.decode()

    @pytest.mark.need(76)
    @pytest.mark.parametrize(
        ("who", "status"),
        [("shift", 200), ("engineer", 200), ("planner", 403), ("viewer", 403), ("stranger", 404)],
    )
    def test_page_is_for_those_who_log(
        self, request: Any, transmitter: Transmitter, who: str, status: int
    ) -> None:
        person = request.getfixturevalue(who)
        assert signed_in(person).get("/log/T1/remark").status_code == status
