"""Signatures: each writer for their own entries, the engineer for the week, both on the chain."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from logbook import triggers
from logbook.ledger import head
from logbook.models import Entry, Kind, Round, Signature
from logbook.services.corrections import correct_values
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_round, make_state, typed_for
from tests.people import signed_in

NOW = SLOT + timedelta(hours=12)
DAY = "/log/T1/day/2026-03-02"

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def row(shift: Person, engineer: Person, transmitter: Transmitter, meter: Meter) -> Round:
    """The shift read a round; the engineer wrote the state."""
    make_state(engineer, transmitter)
    return make_round(shift, transmitter, {meter.code: "12.4"})


def page(person: Person, address: str = DAY) -> str:
    return " ".join(signed_in(person).get(address).content.decode().split())


@pytest.mark.need(1)
class TestOwnEntries:
    def test_sheet_is_unsigned_until_its_writer_signs(self, row: Round, shift: Person) -> None:
        assert page(shift).count("not signed") == 2
        signed_in(shift).post(f"{DAY}/sign")
        assert page(shift).count("not signed") == 1

    def test_nobody_signs_for_another(self, row: Round, engineer: Person, shift: Person) -> None:
        signed_in(engineer).post(f"{DAY}/sign")
        signature = Signature.objects.get()
        assert signature.entry.by == engineer
        assert "not signed" in page(shift)

    def test_it_covers_the_head_of_the_chain(self, row: Round, shift: Person) -> None:
        last = head(row.station)
        signed_in(shift).post(f"{DAY}/sign")
        signature = Signature.objects.get()
        assert (signature.up_to_no, signature.digest) == (last.no, last.digest.hex())
        assert signature.digest[:16] in page(shift)

    @pytest.mark.need(52)
    @pytest.mark.case("C23")
    def test_correction_after_it_is_shown_as_such(
        self, row: Round, meter: Meter, shift: Person
    ) -> None:
        signed_in(shift).post(f"{DAY}/sign")
        values = {meter: typed_for(meter, "12.6")}
        written = correct_values(row, values, reason="slip", by=shift, at=NOW)
        text = page(shift)
        assert "after signature" in text
        assert f'entries <a href="/log/entry/{written.entry.no}"' in text

    def test_what_is_signed_is_not_asked_again(self, row: Round, shift: Person) -> None:
        assert "Sign my entries" in page(shift)
        signed_in(shift).post(f"{DAY}/sign")
        assert "Sign my entries" not in page(shift)


class TestVerified:
    def verify(self) -> str:
        out = StringIO()
        call_command("verify_log", stdout=out, stderr=out)
        return out.getvalue()

    def test_signed_log_is_proved(self, row: Round, shift: Person) -> None:
        signed_in(shift).post(f"{DAY}/sign")
        self.verify()

    def test_changed_signature_is_found_with_its_place(self, row: Round, shift: Person) -> None:
        signed_in(shift).post(f"{DAY}/sign")
        no = Entry.objects.get(kind=Kind.SIGNED).no
        with triggers.lifted(connection), connection.cursor() as cursor:
            cursor.execute("UPDATE logbook_signature SET up_to_no = 1")
        with pytest.raises(CommandError, match=f"signature of entry {no} does not fit entry 1"):
            self.verify()
