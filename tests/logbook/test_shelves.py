"""What is shelved and out of service: to its end, to the end of the shift, by the log alone."""

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
import time_machine

from logbook import port
from logbook.handover_board import as_text, assemble
from logbook.ledger import verify
from logbook.models import Entry, FlagAction, Kind
from logbook.services.corrections import void_entry
from logbook.services.duty import record_duty
from logbook.services.flags import FlagDraft, record_flag_action
from logbook.shelves import Aside, asides_now
from logbook.verification import stored_bodies
from logbook.words import entry_words
from station.models import Meter, Person
from tests.make import SLOT, make_meter, make_state
from tests.people import signed_in

HOUR = timedelta(hours=1)
WORDS = "v1 anode current 15.0 A: at or above the high alarm 14.0"


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(SLOT, tick=False):
        yield


def act(by: Person, meter: Meter, verb: str, at: datetime = SLOT, **over: object) -> FlagAction:
    draft = FlagDraft(over.pop("rule", "limit-high"), meter, 1, verb, WORDS, **over)
    return record_flag_action(draft, by=by, at=at)


def found(meter: Meter, at: datetime) -> list[Aside]:
    return list(asides_now(meter.station, at))


@pytest.mark.need(32)
class TestShelf:
    def test_ends_by_itself_at_its_instant(self, shift: Person, meter: Meter) -> None:
        act(shift, meter, "shelve", until=SLOT + 4 * HOUR, comment="compared at noon")
        (aside,) = found(meter, SLOT + 3 * HOUR)
        assert aside.words == "until 2026-03-02 10:00 UTC, by Shift Moor: compared at noon"
        assert found(meter, SLOT + 4 * HOUR) == []

    def test_no_shelf_lasts_for_more_than_eight_hours(self, shift: Person, meter: Meter) -> None:
        act(shift, meter, "shelve", until=SLOT + 30 * HOUR)
        assert found(meter, SLOT + 8 * HOUR - timedelta(seconds=1))
        assert found(meter, SLOT + 8 * HOUR) == []

    def test_end_of_the_shift_is_when_the_next_one_takes_the_duty(
        self, shift: Person, engineer: Person, meter: Meter
    ) -> None:
        act(shift, meter, "shelve")
        assert "the end of the shift, 2026-03-02 14:00 UTC at the latest" in (
            found(meter, SLOT + 2 * HOUR)[0].words
        )
        at = SLOT + 2 * HOUR
        record_duty(meter.station, None, qualification="", note="", by=engineer, at=at)
        assert found(meter, at) == []

    def test_without_a_next_duty_it_ends_after_eight_hours(
        self, shift: Person, meter: Meter
    ) -> None:
        act(shift, meter, "shelve")
        assert found(meter, SLOT + 7 * HOUR)
        assert found(meter, SLOT + 8 * HOUR) == []

    def test_taken_off_before_its_end(self, shift: Person, meter: Meter) -> None:
        act(shift, meter, "shelve", until=SLOT + 4 * HOUR)
        act(shift, meter, "unshelve", SLOT + HOUR)
        assert found(meter, SLOT + 2 * HOUR) == []

    def test_other_rule_of_the_meter_keeps_its_own(self, shift: Person, meter: Meter) -> None:
        act(shift, meter, "shelve", until=SLOT + 4 * HOUR)
        act(shift, meter, "unshelve", SLOT + HOUR, rule="limit-low")
        assert len(found(meter, SLOT + 2 * HOUR)) == 1

    def test_struck_shelf_shelves_nothing(self, shift: Person, meter: Meter) -> None:
        action = act(shift, meter, "shelve", until=SLOT + 4 * HOUR)
        void_entry(action.entry, reason="the wrong flag", by=shift, at=SLOT + HOUR)
        assert found(meter, SLOT + 2 * HOUR) == []


@pytest.mark.need(33)
class TestOutOfService:
    def test_lasts_until_somebody_puts_it_back(self, engineer: Person, meter: Meter) -> None:
        act(engineer, meter, "out", order_number="4711", comment="shunt changed")
        (aside,) = found(meter, SLOT + 900 * HOUR)
        assert aside.words == (
            "on order 4711, since 2026-03-02 06:00 UTC, by Engineer Moor: shunt changed"
        )
        act(engineer, meter, "back", SLOT + 901 * HOUR)
        assert found(meter, SLOT + 902 * HOUR) == []

    def test_shelf_and_order_stand_beside_each_other(self, engineer: Person, meter: Meter) -> None:
        act(engineer, meter, "shelve", until=SLOT + HOUR)
        act(engineer, meter, "out", order_number="4711")
        levels = [aside.level for aside in found(meter, SLOT + timedelta(minutes=5))]
        assert levels == ["shelved", "out-of-service"]


class TestEntry:
    @pytest.mark.parametrize(
        ("verb", "over", "words"),
        [
            ("reset", {"comment": "valve open"}, f"reset after inspection: {WORDS}: valve open"),
            (
                "shelve",
                {"until": SLOT + HOUR, "comment": "noon"},
                f"shelved until 2026-03-02 07:00 UTC: {WORDS}: noon",
            ),
            ("shelve", {}, f"shelved until the end of the shift: {WORDS}"),
            ("out", {"order_number": "4711"}, f"meter out of service, order 4711: {WORDS}"),
            ("back", {}, f"meter back in service: {WORDS}"),
        ],
    )
    def test_page_copy_and_file_say_it(
        self, engineer: Person, meter: Meter, verb: str, over: dict, words: str
    ) -> None:
        entry = act(engineer, meter, verb, **over).entry
        assert entry_words(Entry.objects.get(pk=entry.pk)) == words
        client = signed_in(engineer)
        copy = client.get("/log/copy?since=2026-03-02&until=2026-03-02").content.decode()
        for page in (client.get(f"/log/entry/{entry.no}").content.decode(), copy):
            assert words in page

    def test_what_it_says_is_in_the_chain(self, engineer: Person, meter: Meter) -> None:
        act(engineer, meter, "shelve", until=SLOT + HOUR)
        act(engineer, meter, "out", order_number="4711")
        assert list(verify(meter.station, stored_bodies(meter.station))) == []

    def test_what_was_written_before_there_were_ends_keeps_its_body(
        self, engineer: Person, meter: Meter
    ) -> None:
        act(engineer, meter, "acknowledge")
        ((_entry, body),) = stored_bodies(meter.station)
        assert set(body) == {"rule", "meter", "first_no", "verb", "words", "comment"}

    def test_file_of_flags_has_a_column_for_each(self, engineer: Person, meter: Meter) -> None:
        act(engineer, meter, "shelve", until=SLOT + HOUR, comment="noon")
        span = "since=2026-03-02&until=2026-03-02"
        answer = signed_in(engineer).get(f"/log/export?table=flags&{span}")
        head, line = b"".join(answer.streaming_content).decode().splitlines()
        assert "until [UTC],order_number" in head
        assert "shelve" in line
        assert "2026-03-02T07:00:00Z" in line


@pytest.mark.need(32, 33, 49)
def test_hand_over_lists_the_shelf_without_the_analysis(
    engineer: Person, meter: Meter, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_state(engineer, meter.transmitter)
    other = make_meter(meter.transmitter, "v2_anode_current")
    act(engineer, meter, "shelve", until=SLOT + 4 * HOUR, comment="noon")
    act(engineer, other, "out", order_number="4711", comment="shunt")
    monkeypatch.setattr(port, "remarks", lambda *span: None)
    text = as_text(assemble(meter.station, SLOT + HOUR))
    assert f"Shelved: {WORDS}; until 2026-03-02 10:00 UTC, by Engineer Moor: noon" in text
    assert "Out of service: v2 anode current, on order 4711, since 2026-03-02 06:00 UTC" in text
    assert Entry.objects.filter(kind=Kind.FLAG).count() == 2
