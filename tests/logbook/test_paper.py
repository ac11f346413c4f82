"""What leaves on paper and comes from it: copies, prints, holds, rounds typed from a sheet."""

from datetime import date, timedelta
from io import StringIO
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import DatabaseError, transaction

from logbook.holds import holds, keep_from
from logbook.models import Entry, Hold, Printing, Reading, Round
from logbook.services.corrections import correct_values, void_entry
from logbook.services.holds import AlreadyReleased, record_release
from station.models import Meter, Person, Station, Transmitter
from tests.make import SLOT, make_hold, make_interruption, make_round, make_state, typed_for
from tests.people import signed_in

NOW = SLOT + timedelta(hours=9)

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def row(shift: Person, transmitter: Transmitter, meter: Meter) -> Round:
    make_state(shift, transmitter)
    return make_round(shift, transmitter, {meter.code: "12.4"})


@pytest.mark.need(54)
class TestCopy:
    def page(self, by: Person, since: str = "2026-03-02", until: str = "2026-03-02") -> str:
        address = f"/log/copy?since={since}&until={until}"
        return signed_in(by).get(address).content.decode()

    def test_every_entry_with_what_was_struck_and_by_whom(
        self, shift: Person, viewer: Person, meter: Meter, row: Round
    ) -> None:
        cells = {meter: typed_for(meter, "12.6")}
        correct_values(row, cells, reason="misread", by=shift, at=NOW)
        page = self.page(viewer)
        assert "<del>12.4</del> <strong>12.6</strong> A" in page
        assert "Entry 3, 2026-03-02 15:00 UTC, Shift Moor: values of entry 2 corrected" in page
        assert "misread" in page
        for entry in Entry.objects.all():
            assert bytes(entry.digest).hex()[:16] in page

    def test_struck_entry_stays_in_it(self, shift: Person, viewer: Person, row: Round) -> None:
        void_entry(row.entry, reason="wrong set", by=shift, at=NOW)
        page = self.page(viewer)
        assert "<strong>12.4</strong> A" in page
        assert "by entry 3" in page

    def test_a_sheet_a_day_with_the_head_of_the_whole_log(
        self, shift: Person, viewer: Person, row: Round
    ) -> None:
        page = self.page(viewer, "2026-03-01", "2026-03-03")
        assert "Sheet 1 of 3: log day 2026-03-01" in page
        assert "Nothing was written for this day." in page
        assert page.count(bytes(Entry.objects.last().digest).hex()) == 3

    def test_digest_on_it_proves_the_log_later(
        self, shift: Person, viewer: Person, meter: Meter, row: Round
    ) -> None:
        printed = bytes(Entry.objects.last().digest).hex()
        assert printed in self.page(viewer)
        make_round(shift, row.entry.transmitter, {meter.code: "12"}, slot=SLOT + timedelta(hours=1))
        call_command("verify_log", "--expect", printed, stdout=StringIO())

    def test_too_long_a_span_is_asked_for_in_parts(self, viewer: Person, row: Round) -> None:
        assert "more than 100 days" in self.page(viewer, "2026-01-01", "2026-04-11")
        assert "Sheet 1 of 100" in self.page(viewer, "2026-01-01", "2026-04-10")

    def test_queries_do_not_grow_with_the_entries(
        self,
        shift: Person,
        viewer: Person,
        meter: Meter,
        row: Round,
        django_assert_max_num_queries: object,
    ) -> None:
        client = signed_in(viewer)
        address = "/log/copy?since=2026-03-02&until=2026-03-02"
        client.get(address)
        for hour in range(1, 8):
            slot = SLOT + timedelta(hours=hour)
            make_round(shift, row.entry.transmitter, {meter.code: "12"}, slot=slot)
        with django_assert_max_num_queries(12):
            client.get(address)


@pytest.mark.need(13)
class TestPrints:
    def printed(self, by: Person, address: str) -> str:
        answer = signed_in(by).post("/log/printed", {"address": address}, follow=True)
        return answer.content.decode()

    def test_second_print_says_that_it_is_one(
        self, shift: Person, viewer: Person, row: Round
    ) -> None:
        sheet = "/log/T1/day/2026-03-02"
        assert "not for the file" in signed_in(shift).get(sheet).content.decode()
        assert "First print, 2026-03-02 15:00 UTC, by Shift Moor" in self.printed(shift, sheet)
        with time_machine.travel(NOW + timedelta(hours=1), tick=False):
            page = self.printed(viewer, sheet)
        assert "<strong>Reprint</strong>" in page
        assert "2026-03-02 16:00 UTC, by Viewer Moor; first printed 2026-03-02 15:00 UTC" in page

    def test_prints_of_other_pages_and_spans_are_their_own(self, shift: Person, row: Round) -> None:
        self.printed(shift, "/log/copy?since=2026-03-02&until=2026-03-02")
        page = self.printed(shift, "/log/copy?since=2026-03-01&until=2026-03-02")
        assert "First print" in page
        assert Printing.objects.count() == 2

    def test_it_names_the_log_as_it_stood(self, shift: Person, row: Round) -> None:
        self.printed(shift, "/log/T1/waves")
        assert Printing.objects.get().up_to_no == 2

    @pytest.mark.parametrize(
        "address", ["", "https://elsewhere.example/", "//elsewhere.example", "/nowhere", "/x" * 150]
    )
    def test_no_page_of_ours_is_no_print(self, shift: Person, address: str) -> None:
        answer = signed_in(shift).post("/log/printed", {"address": address})
        assert answer.status_code == 404
        assert not Printing.objects.exists()

    @pytest.mark.parametrize("number", ["2", "0", "-1", "x", "99999"])
    def test_number_of_no_print_is_no_mark(self, shift: Person, row: Round, number: str) -> None:
        self.printed(shift, "/log/T1/day/2026-03-02")
        page = signed_in(shift).get(f"/log/T1/day/2026-03-02?print={number}").content.decode()
        assert "not for the file" in page


@pytest.mark.need(54)
class TestHolds:
    def test_it_stands_until_it_is_released_in_writing(
        self, engineer: Person, station: Station
    ) -> None:
        client = signed_in(engineer)
        typed = {"since": "2026-03-01", "until": "2026-03-04", "reason": "claim"}
        client.post("/log/holds", typed)
        hold = Hold.objects.get()
        assert list(holds(station)) == [hold]
        address = f"/log/hold/{hold.entry.no}/released"
        client.post(address, {"reference": ""})
        assert list(holds(station)) == [hold]
        client.post(address, {"reference": "letter of 3 March"})
        assert list(holds(station)) == []
        with pytest.raises(AlreadyReleased):
            record_release(hold, "again", by=engineer, at=NOW)
        call_command("verify_log", stdout=StringIO())

    def test_only_the_engineer_holds(self, shift: Person, engineer: Person) -> None:
        typed = {"since": "2026-03-01", "until": "2026-03-04", "reason": "claim"}
        signed_in(shift).post("/log/holds", typed)
        assert not Hold.objects.exists()

    @pytest.mark.parametrize(
        ("today", "first"),
        [(date(2026, 3, 2), date(2024, 3, 2)), (date(2024, 2, 29), date(2022, 2, 28))],
    )
    def test_years_of_the_station(self, station: Station, today: date, first: date) -> None:
        assert keep_from(station, today) == first

    def test_page_says_the_years(self, viewer: Person, station: Station) -> None:
        Station.objects.update(retention_years=7)
        page = signed_in(viewer).get("/log/holds").content.decode()
        assert "kept for 7 years, today back to 2019-03-02" in page

    @pytest.mark.parametrize("model", [Entry, Reading, Hold])
    def test_nothing_is_deleted_held_or_not(
        self, engineer: Person, row: Round, model: type
    ) -> None:
        make_hold(engineer)
        with pytest.raises(DatabaseError), transaction.atomic():
            model.objects.all()._raw_delete("default")


@pytest.mark.need(77)
@pytest.mark.need(78)
class TestFromPaper:
    def typed(self, **over: str) -> dict[str, str]:
        return {
            "slot_day": "2026-03-02",
            "slot_clock": "06:00",
            "observed": "06:04",
            "kind": "routine",
            "modulation": "on",
            "action": "save",
            "cell-v1_anode_current": "12.4",
            **over,
        }

    def test_sheet_and_both_times_stand(
        self, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        signed_in(shift).post("/log/T1/round", self.typed(paper_sheet="A 17"))
        entry = Entry.objects.get()
        assert (entry.source, entry.round.paper_sheet) == ("paper", "A 17")
        assert (f"{entry.observed_at:%H:%M}", f"{entry.entered_at:%H:%M}") == ("06:04", "15:00")
        sheet = signed_in(shift).get("/log/T1/day/2026-03-02").content.decode()
        assert "paper sheet A 17, typed 15:00 UTC" in sheet
        page = signed_in(shift).get(f"/log/entry/{entry.no}").content.decode()
        assert "typed from paper" in page
        call_command("verify_log", stdout=StringIO())

    def test_typed_twice_is_compared(
        self, shift: Person, engineer: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        """The second typing is kept as a duplicate: both stand side by side."""
        signed_in(shift).post("/log/T1/round", self.typed(paper_sheet="17"))
        again = self.typed(paper_sheet="17", **{"cell-v1_anode_current": "14.2"})
        signed_in(engineer).post("/log/T1/round", again)
        first, second = Round.objects.order_by("entry__no")
        assert second.duplicate_of == first
        page = signed_in(engineer).get(f"/log/entry/{first.entry.no}/choose").content.decode()
        assert "12.4" in page
        assert "14.2" in page

    def test_what_is_typed_at_the_meters_is_of_no_paper(
        self, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        signed_in(shift).post("/log/T1/round", self.typed())
        assert Entry.objects.get().source == "person"


@pytest.mark.need(53)
class TestInstrumentLink:
    @pytest.fixture
    def entry(self, shift: Person, transmitter: Transmitter, meter: Meter, tmp_path: Path) -> Entry:
        """A round that an instrument link read."""
        file = tmp_path / "link.csv"
        heading = "observed_at,transmitter,modulation,observer,v1_anode_current\n"
        file.write_text(heading + "2026-03-02T06:04:00Z,T1,on,shift,12.4\n")
        call_command("import_log", str(file), "--logger", stdout=StringIO())
        return Entry.objects.get(kind="round")

    def test_nobody_corrects_it(self, entry: Entry, engineer: Person) -> None:
        client = signed_in(engineer)
        assert entry.source == "logger"
        for way in ("correct", "void", "anew"):
            assert client.get(f"/log/entry/{entry.no}/{way}").status_code == 403
        page = client.get(f"/log/entry/{entry.no}").content.decode()
        assert "An instrument link read this: nobody corrects it" in page

    def test_service_refuses_as_well(self, entry: Entry, engineer: Person, meter: Meter) -> None:
        with pytest.raises(AssertionError):
            correct_values(
                entry.round, {meter: typed_for(meter, "1")}, reason="x", by=engineer, at=NOW
            )

    def test_remark_may_be_written_about_it(self, entry: Entry, shift: Person) -> None:
        signed_in(shift).post(
            f"/log/entry/{entry.no}/remark",
            {"text": "link was being tested", "day": "2026-03-02", "clock": "06:10"},
        )
        page = signed_in(shift).get(f"/log/entry/{entry.no}").content.decode()
        assert "link was being tested" in page

    def test_without_the_word_it_is_an_import(
        self, entry: Entry, transmitter: Transmitter, tmp_path: Path
    ) -> None:
        file = tmp_path / "past.csv"
        heading = "observed_at,transmitter,modulation,observer,v1_anode_current\n"
        file.write_text(heading + "2026-03-02T07:04:00Z,T1,on,shift,12.4\n")
        call_command("import_log", str(file), stdout=StringIO())
        assert Entry.objects.filter(kind="round").last().source == "import"
        with pytest.raises(CommandError):
            call_command("import_log", str(tmp_path / "nothing.csv"))


@pytest.mark.need(44)
class TestInterruptionReport:
    def test_each_with_its_length_and_facts(self, shift: Person, transmitter: Transmitter) -> None:
        facts = {"cause": "ht_supply", "first_indicator": "overcurrent V1", "recycles": 2}
        loss = make_interruption(shift, transmitter, **facts)
        back = {"day": "2026-03-02", "clock": "06:13:20", "found": "arc in V1"}
        signed_in(shift).post(f"/log/interruption/{loss.no}/restored", back)
        page = signed_in(shift).get("/log/interruptions/2026-03").content.decode()
        assert '<td class="number">200</td>' in page
        assert "first indicator: overcurrent V1; 2 recycles" in page
        assert "arc in V1" in page
        assert "Sheet 1 of 1: interruptions of 2026-03" in page

    def test_other_month_has_none(self, shift: Person, transmitter: Transmitter) -> None:
        make_interruption(shift, transmitter)
        page = signed_in(shift).get("/log/interruptions/2026-02").content.decode()
        assert "None were written for this month." in page
        assert signed_in(shift).get("/log/interruptions/2026-13").status_code == 404
