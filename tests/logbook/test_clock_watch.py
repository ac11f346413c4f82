"""A clock that cannot be trusted is asked about before anything is written (case C24)."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from logbook import clock_watch
from logbook.clock_watch import WATCH, clock_doubt
from logbook.models import Entry, Remark
from station.models import Person, Station, Transmitter
from tests.make import SLOT, make_state
from tests.people import signed_in

NOW = SLOT + timedelta(hours=1)
TYPED = {"text": "quiet", "day": "2026-03-02", "clock": "06:50"}

pytestmark = [pytest.mark.need(28), pytest.mark.case("C24")]


@pytest.fixture
def log(shift: Person, transmitter: Transmitter) -> Station:
    """Whose last entry was entered at 0700."""
    make_state(shift, transmitter, at=NOW)
    return transmitter.station


def at(instant: datetime, by: Person, **typed: str) -> str:
    with time_machine.travel(instant, tick=False):
        answer = signed_in(by).post("/log/T1/remark", {**TYPED, **typed}, follow=True)
    return answer.content.decode()


class TestBack:
    def test_clock_of_1970_is_asked_about(self, log: Station, shift: Person) -> None:
        page = at(datetime(1970, 1, 1, 0, 5, tzinfo=UTC), shift)
        assert "The clock says 1970-01-01 00:05 UTC, but entry 1 was entered at 2026-03-02" in page
        assert 'name="text" value="quiet"' in page
        assert not Remark.objects.exists()

    def test_an_hour_back_is_asked_about_once(self, log: Station, shift: Person) -> None:
        early = NOW - timedelta(hours=1)
        assert "Is the clock right" in at(early, shift)
        assert "Is the clock right" not in at(early, shift, clock_meant="back:1", clock="05:59")
        assert "Is the clock right" not in at(early + timedelta(minutes=1), shift)

    def test_order_goes_by_number_all_the_same(self, log: Station, shift: Person) -> None:
        early = NOW - timedelta(hours=1)
        at(early, shift, clock_meant="back:1", clock="05:59")
        assert [entry.no for entry in Entry.objects.order_by("no")] == [1, 2]
        assert Entry.objects.get(no=2).entered_at == early

    def test_two_minutes_are_not(self, log: Station) -> None:
        assert clock_doubt(log, NOW - timedelta(minutes=2)) is None
        assert clock_doubt(log, NOW - timedelta(minutes=2, seconds=1)) is not None

    def test_answer_to_another_doubt_does_not_count(self, log: Station, shift: Person) -> None:
        assert "Is the clock right" in at(NOW - timedelta(hours=1), shift, clock_meant="back:7")

    def test_empty_log_has_nothing_to_be_held_against(self, shift: Person) -> None:
        assert clock_doubt(shift.station, datetime(1970, 1, 1, tzinfo=UTC)) is None


class TestJump:
    @pytest.mark.parametrize(("minutes", "is_asked"), [(61, True), (-3, True), (1, False)])
    def test_clock_moved_while_the_server_runs(
        self,
        log: Station,
        monkeypatch: pytest.MonkeyPatch,
        minutes: int,
        is_asked: bool,
    ) -> None:
        """The time since the machine was started goes on; the clock is moved against it."""
        offsets = iter([1000.0, 1000.0 + minutes * 60])
        monkeypatch.setattr(clock_watch, "offset_now", lambda: next(offsets))
        WATCH.start()
        doubt = clock_doubt(log, NOW + timedelta(hours=2))
        assert (doubt is not None) == is_asked
        if doubt:
            assert f"{minutes:+d} minutes" in doubt.sentence

    def test_server_that_was_not_started_asks_nothing(self, log: Station) -> None:
        assert clock_doubt(log, NOW + timedelta(hours=2)) is None

    def test_answer_takes_the_clock_as_it_is(
        self, log: Station, shift: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        now = iter([0.0, 3660.0, 3660.0, 3660.0, 3660.0])
        monkeypatch.setattr(clock_watch, "offset_now", lambda: next(now))
        WATCH.start()
        later = NOW + timedelta(hours=2)
        assert "moved by +61 minutes" in at(later, shift)
        assert "Is the clock right" not in at(later, shift, clock_meant="jump:61")
        assert "Is the clock right" not in at(later, shift)
        assert Remark.objects.count() == 2


def test_reading_is_never_asked(log: Station, viewer: Person) -> None:
    with time_machine.travel(NOW - timedelta(hours=1), tick=False):
        assert signed_in(viewer).get("/log/").status_code == 200
        answer = signed_in(viewer).post("/log/T1/remark", TYPED)
    assert answer.status_code == 403
