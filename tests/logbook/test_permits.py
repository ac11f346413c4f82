"""Permits and earths: noted with two names, asked about before HT, on top while they are out."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from logbook.models import Entry, Permit, PermitReturn
from logbook.permits import open_permits, open_permits_of
from logbook.services.corrections import void_entry
from logbook.services.permits import AlreadyReturned, record_return
from station.models import Person, Transmitter
from tests.make import SLOT, make_permit, make_state
from tests.people import signed_in

NOW = SLOT + timedelta(hours=2)
BACK = {"earths_back": 1, "seen_by": "J. Amsel", "note": ""}

pytestmark = [pytest.mark.need(72), pytest.mark.usefixtures("clock")]


@pytest.fixture
def permit(shift: Person, transmitter: Transmitter) -> Entry:
    make_state(shift, transmitter, state="isolated")
    return make_permit(shift, transmitter)


def give_back(entry: Entry, by: Person) -> Entry:
    return record_return(entry.permit, BACK, observed_at=NOW, by=by, at=NOW)


class TestOut:
    def test_until_it_is_returned(self, permit: Entry, shift: Person) -> None:
        assert [one.number for one in open_permits_of(permit.transmitter)] == ["12"]
        give_back(permit, shift)
        assert not open_permits_of(permit.transmitter).exists()

    def test_struck_return_leaves_it_out(self, permit: Entry, shift: Person) -> None:
        void_entry(give_back(permit, shift), reason="another one", by=shift, at=NOW)
        assert open_permits_of(permit.transmitter).exists()

    def test_it_comes_back_once(self, permit: Entry, shift: Person) -> None:
        give_back(permit, shift)
        with pytest.raises(AlreadyReturned):
            give_back(permit, shift)
        assert PermitReturn.objects.count() == 1

    def test_chain_holds_what_they_say(self, permit: Entry, shift: Person) -> None:
        give_back(permit, shift)
        call_command("verify_log", stdout=StringIO())


class TestPages:
    @pytest.mark.need(71)
    @pytest.mark.need(73)
    @pytest.mark.parametrize("address", ["permits", "permit", "permit/2/return"])
    def test_cautions_stand_beside_it(self, permit: Entry, shift: Person, address: str) -> None:
        page = signed_in(shift).get(f"/log/{address}").content.decode()
        assert "isolate, lock, discharge, earth, prove dead, permit, second person" in page
        assert "This record is not a permit" in page

    def test_board_shows_what_is_out(self, permit: Entry, viewer: Person) -> None:
        page = signed_in(viewer).get("/log/permits").content.decode()
        assert "R. Ekstam" in page
        assert "1 earth stick" in page

    def test_permit_goes_out_and_comes_back(self, transmitter: Transmitter, shift: Person) -> None:
        out = {"transmitter": "T1", "number": "7", "holder": "R. Ekstam", "work": "coil"}
        out |= {"authorised_by": "S. Falkner", "earths": "2", "day": "2026-03-02"}
        signed_in(shift).post("/log/permit", {**out, "clock": "06:30"})
        row = Permit.objects.get()
        back = {"earths_back": "2", "seen_by": "J. Amsel", "day": "2026-03-02", "clock": "07:30"}
        signed_in(shift).post(f"/log/permit/{row.entry.no}/return", back)
        assert PermitReturn.objects.get().seen_by == "J. Amsel"

    def test_missing_earth_stick_keeps_it_out(self, permit: Entry, shift: Person) -> None:
        back = {"earths_back": "0", "seen_by": "J. Amsel", "day": "2026-03-02", "clock": "07:30"}
        page = signed_in(shift).post(f"/log/permit/{permit.no}/return", back).content.decode()
        assert "find every one of them" in page
        assert not PermitReturn.objects.exists()

    def test_second_name_is_wanted(self, permit: Entry, shift: Person) -> None:
        back = {"earths_back": "1", "seen_by": "", "day": "2026-03-02", "clock": "07:30"}
        signed_in(shift).post(f"/log/permit/{permit.no}/return", back)
        assert not PermitReturn.objects.exists()


@pytest.mark.need(14)
class TestHtWithAPermitOut:
    def page(self, **over: str) -> dict[str, str]:
        return {"state": "standby", "day": "2026-03-02", "observed": "07:30", **over}

    def test_filaments_are_not_asked_about_and_ht_is(self, permit: Entry, shift: Person) -> None:
        client = signed_in(shift)
        assert "is still out" not in client.post("/log/T1/state", self.page()).content.decode()
        page = client.post("/log/T1/state", self.page(state="on_air")).content.decode()
        assert "Permit 12 (R. Ekstam, 1 earth sticks) is still out" in page


@pytest.mark.need(74)
class TestOnAnAntenna:
    OUT = {"antenna": "A1", "number": "9", "holder": "R. Ekstam", "work": "insulator"} | {
        "authorised_by": "S. Falkner",
        "earths": "2",
        "beside": "A2: 100 kW",
        "day": "2026-03-02",
        "clock": "07:30",
    }

    def send(self, by: Person, **over: str) -> str:
        return signed_in(by).post("/log/permit", {**self.OUT, **over}).content.decode()

    def test_antenna_in_use_is_asked_about(self, transmitter: Transmitter, shift: Person) -> None:
        make_state(shift, transmitter)
        page = self.send(shift)
        assert "T1 has HT on and stands on antenna A1 by the log" in page
        assert not Permit.objects.exists()
        make_state(shift, transmitter, state="standby", observed_at=SLOT)
        self.send(shift)
        assert Permit.objects.get().antenna.code == "A1"
        call_command("verify_log", stdout=StringIO())

    def test_rf_with_people_on_the_mast_is_asked_about(
        self, transmitter: Transmitter, shift: Person
    ) -> None:
        self.send(shift)
        typed = {"state": "on_air", "frequency": "6105", "antenna": "A1", "day": "2026-03-02"}
        page = signed_in(shift).post("/log/T1/state", {**typed, "observed": "07:40"})
        assert "somebody may be on its mast" in page.content.decode()
        wave = {"frequency": "6105", "antenna": "A1", "power": "200/tap", "day": "2026-03-02"}
        page = signed_in(shift).post("/log/T1/wave", {**wave, "rf_on": "07:40"})
        assert "somebody may be on its mast" in page.content.decode()

    def test_board_and_hand_over_name_it(self, transmitter: Transmitter, shift: Person) -> None:
        self.send(shift)
        assert "A2: 100 kW" in signed_in(shift).get("/log/permits").content.decode()
        said = signed_in(shift).get("/log/duty/hand-over").content.decode()
        assert "antenna A1 and its mast" in said

    @pytest.mark.parametrize("over", [{"antenna": ""}, {"transmitter": "T1"}])
    def test_one_thing_is_worked_on(
        self, transmitter: Transmitter, shift: Person, over: dict[str, str]
    ) -> None:
        assert "one transmitter, or one antenna" in self.send(shift, **over)
        assert not Permit.objects.exists()

    def test_it_comes_back(self, transmitter: Transmitter, shift: Person) -> None:
        self.send(shift)
        row = Permit.objects.get()
        assert open_permits(shift.station).count() == 1
        back = {"earths_back": "2", "seen_by": "J. Amsel", "day": "2026-03-02", "clock": "07:50"}
        signed_in(shift).post(f"/log/permit/{row.entry.no}/return", back)
        assert not open_permits(shift.station).exists()
