"""Interruptions: begun and ended by an entry each, one event over several transmitters."""

from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from logbook.interruptions import Loss, losses
from logbook.models import Entry, Interruption, Kind, Restoration
from logbook.services.corrections import void_entry
from logbook.services.interruptions import AlreadyRestored, record_restoration
from station.models import Person, Transmitter
from tests.make import make_interruption, make_state, make_transmitter
from tests.people import signed_in

BEGIN = datetime(2026, 3, 31, 23, 58, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
NOW = BEGIN + timedelta(hours=2)

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def loss(shift: Person, transmitter: Transmitter) -> Entry:
    return make_interruption(shift, transmitter, begin=BEGIN)


def restore(entry: Entry, by: Person, minutes: int) -> Entry:
    facts = {"found": "", "mode": "", "mechanism": "", "repair_min": None}
    return record_restoration(entry.interruption, BEGIN + minutes * MINUTE, facts, by=by, at=NOW)


def standing(entry: Entry) -> list[Loss]:
    return losses(entry.station, BEGIN - timedelta(days=1), NOW)


@pytest.mark.need(44)
class TestLosses:
    def test_without_an_end_it_is_open(self, loss: Entry) -> None:
        (one,) = standing(loss)
        assert (one.begin, one.end) == (BEGIN, None)

    @pytest.mark.case("C10")
    def test_one_that_crosses_a_month_is_one(self, loss: Entry, shift: Person) -> None:
        restore(loss, shift, 9)
        for since, until in ((BEGIN, BEGIN + 2 * MINUTE), (BEGIN + 2 * MINUTE, NOW)):
            (one,) = losses(loss.station, since, until)
            assert one.length == 9 * MINUTE

    def test_one_that_was_over_before_is_not_there(self, loss: Entry, shift: Person) -> None:
        restore(loss, shift, 9)
        assert losses(loss.station, BEGIN + 9 * MINUTE, NOW) == []

    def test_struck_end_leaves_it_open(self, loss: Entry, shift: Person) -> None:
        end = restore(loss, shift, 9)
        void_entry(end, reason="not over at all", by=shift, at=NOW)
        assert standing(loss)[0].end is None
        assert losses(loss.station, BEGIN + 9 * MINUTE, NOW) != []

    def test_struck_interruption_is_gone(self, loss: Entry, shift: Person) -> None:
        void_entry(loss, reason="was a test", by=shift, at=NOW)
        assert standing(loss) == []

    def test_second_end_is_not_written(self, loss: Entry, shift: Person) -> None:
        restore(loss, shift, 9)
        with pytest.raises(AlreadyRestored):
            restore(loss, shift, 10)
        assert Restoration.objects.count() == 1

    @pytest.mark.case("C29")
    def test_mains_dip_is_one_event_with_an_interruption_for_each(
        self, transmitter: Transmitter, shift: Person
    ) -> None:
        others = [make_transmitter(code=f"T{n}", station=transmitter.station) for n in (2, 3, 4)]
        first = make_interruption(shift, transmitter, *others, begin=BEGIN, loss_source="mains")
        rows = Interruption.objects.order_by("entry__no")
        assert [row.part_of for row in rows] == [None, first, first, first]
        assert {row.loss_source for row in rows} == {"mains"}
        assert len(standing(first)) == 4

    def test_chain_holds_what_they_say(self, loss: Entry, shift: Person) -> None:
        restore(loss, shift, 9)
        call_command("verify_log", stdout=StringIO())


class TestPages:
    def page(self, **over: object) -> dict[str, object]:
        return {
            "transmitters": ["T1"],
            "day": "2026-03-31",
            "clock": "23:58:10",
            "loss_source": "own",
            "cause": "ht_supply",
            "first_indicator": "overcurrent V1",
            "indicators": "overcurrent V1, HT off",
            "recycles": "3",
            "is_locked_out": "on",
            **over,
        }

    @pytest.mark.need(37)
    @pytest.mark.need(44)
    def test_trip_is_written_with_its_indicators_to_the_second(
        self, transmitter: Transmitter, shift: Person
    ) -> None:
        signed_in(shift).post("/log/interruption", self.page())
        row = Interruption.objects.get()
        assert f"{row.entry.observed_at:%H:%M:%S}" == "23:58:10"
        assert (row.first_indicator, row.recycles, row.is_locked_out) == ("overcurrent V1", 3, True)
        page = signed_in(shift).get("/log/interruptions").content.decode()
        assert "first indicator: overcurrent V1" in page
        assert "3 recycles; locked out" in page

    @pytest.mark.need(48)
    def test_end_takes_how_it_showed_what_failed_and_the_repair(
        self, transmitter: Transmitter, loss: Entry, shift: Person
    ) -> None:
        page = {"day": "2026-04-01", "clock": "00:07", "mode": "will not start", "found": "relay"}
        page |= {"mechanism": "contact burnt", "repair_min": "5"}
        signed_in(shift).post(f"/log/interruption/{loss.no}/restored", page)
        row = Restoration.objects.get()
        assert (row.mode, row.mechanism, row.repair_min) == ("will not start", "contact burnt", 5)
        assert "0:09:00" in signed_in(shift).get("/log/interruptions").content.decode()

    @pytest.mark.case("C11")
    def test_end_before_its_begin_is_refused_at_the_field(
        self, transmitter: Transmitter, loss: Entry, shift: Person
    ) -> None:
        page = {"day": "2026-03-31", "clock": "23:50"}
        answer = signed_in(shift).post(f"/log/interruption/{loss.no}/restored", page)
        assert "the end cannot lie before that" in answer.content.decode()
        assert not Restoration.objects.exists()

    @pytest.mark.parametrize(
        ("over", "sentence"),
        [
            ({"transmitters": []}, "Choose at least one"),
            ({"transmitters": ["T9"]}, "those of this station"),
            ({"agreed_day": "2026-04-01"}, "leave both blank"),
            ({"clock": "24:61"}, "hours and minutes"),
        ],
    )
    def test_what_cannot_be_is_said(
        self, transmitter: Transmitter, shift: Person, over: dict, sentence: str
    ) -> None:
        answer = signed_in(shift).post("/log/interruption", self.page(**over))
        assert sentence in answer.content.decode()
        assert not Interruption.objects.exists()

    def test_begin_ahead_of_the_clock_is_asked_about(
        self, transmitter: Transmitter, shift: Person
    ) -> None:
        answer = signed_in(shift).post("/log/interruption", self.page(day="2026-04-02"))
        assert "has not come yet" in answer.content.decode()

    def test_day_sheet_tells_it(self, transmitter: Transmitter, loss: Entry, shift: Person) -> None:
        make_state(shift, transmitter, observed_at=BEGIN - MINUTE)
        page = signed_in(shift).get("/log/T1/day/2026-03-31").content.decode()
        assert "Interrupted: unknown" in page

    def test_of_a_round_there_is_no_end(self, transmitter: Transmitter, shift: Person) -> None:
        make_state(shift, transmitter)
        no = Entry.objects.get(kind=Kind.STATE).no
        assert signed_in(shift).get(f"/log/interruption/{no}/restored").status_code == 404
