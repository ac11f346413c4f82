"""Tubes in sockets: their moves, what contradicts, and the hours that follow them."""

from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from logbook.hour_book import HourBook
from logbook.models import Entry, MeterChange, TubeMove
from logbook.services.corrections import correct_values, void_entry
from logbook.services.tubes import TubeDraft, record_tube_moves, write_moves_anew
from logbook.tube_card import build_tube_card
from logbook.tube_log import TubeConflict, moves_of
from logbook.tube_stays import stays
from station.models import Instrument, Person, Socket, Transmitter, Tube
from tests.make import make_meter, make_round, make_sockets, make_state, make_tube, typed_for
from tests.people import signed_in

DAY = datetime(2026, 3, 2, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def tubes(transmitter: Transmitter) -> tuple[Tube, Tube]:
    return make_tube(transmitter, "A-1"), make_tube(transmitter, "B-2")


@pytest.fixture
def sockets(transmitter: Transmitter, tubes: tuple[Tube, Tube]) -> tuple[Socket, Socket]:
    return make_sockets(transmitter)


def move(by: Person, *drafts: TubeDraft, at: datetime = DAY) -> list[TubeMove]:
    entered = at + timedelta(minutes=10)
    return record_tube_moves(by.station, drafts, observed_at=at, by=by, at=entered)


def running_day(by: Person, transmitter: Transmitter, first: float = 500.0) -> None:
    """On the air from 0 to 10 UTC, the counter read every other hour."""
    make_state(by, transmitter, observed_at=DAY)
    make_state(by, transmitter, observed_at=DAY + 10 * HOUR, state="off")
    for hour in range(0, 11, 2):
        make_round(
            by,
            transmitter,
            {"filament_hours": f"{first + hour:.1f}"},
            slot=DAY + hour * HOUR,
            observed_at=DAY + hour * HOUR,
        )


def filament_h(tube: Tube, until: datetime = DAY + 12 * HOUR) -> float:
    return round(build_tube_card(tube, until).filament.hours, 3)


class TestMoves:
    @pytest.mark.need(60)
    def test_hours_follow_the_tube(self, engineer, transmitter, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        running_day(engineer, transmitter)
        swap = (
            TubeDraft(tubes[0], sockets[0], None, "shelf", "precaution"),
            TubeDraft(tubes[1], None, sockets[0]),
        )
        move(engineer, *swap, at=DAY + 6 * HOUR)
        assert (filament_h(tubes[0]), filament_h(tubes[1])) == (6.0, 4.0)

    @pytest.mark.need(60)
    def test_two_tubes_change_sockets_in_one_action(self, engineer, transmitter, tubes, sockets):
        for tube, socket in zip(tubes, sockets, strict=True):
            move(engineer, TubeDraft(tube, None, socket))
        both = (
            TubeDraft(tubes[0], sockets[0], sockets[1]),
            TubeDraft(tubes[1], sockets[1], sockets[0]),
        )
        move(engineer, *both, at=DAY + HOUR)
        standing = [s for s in stays(moves_of(engineer.station)) if s.until is None]
        assert {(s.tube, s.socket) for s in standing} == {
            (tubes[0].pk, sockets[1].pk),
            (tubes[1].pk, sockets[0].pk),
        }

    @pytest.mark.need(60)
    def test_a_taken_socket_is_refused_with_what_to_do(self, engineer, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        with pytest.raises(TubeConflict, match="tube A-1 stands there"):
            move(engineer, TubeDraft(tubes[1], None, sockets[0]), at=DAY + HOUR)
        assert Entry.objects.count() == 1

    @pytest.mark.need(60)
    def test_a_tube_is_never_in_two_sockets(self, engineer, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        with pytest.raises(
            TubeConflict, match="A-1 cannot leave no socket: by the log it stands in T1 V1"
        ):
            move(engineer, TubeDraft(tubes[0], None, sockets[1]), at=DAY + HOUR)

    @pytest.mark.need(60)
    def test_a_move_before_what_is_known_may_not_overlap(self, engineer, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        with pytest.raises(TubeConflict):
            move(engineer, TubeDraft(tubes[1], None, sockets[0]), at=DAY - HOUR)

    @pytest.mark.case("C19")
    def test_a_move_told_two_days_later_splits_the_hours_anew(
        self, engineer, transmitter, tubes, sockets
    ):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        running_day(engineer, transmitter)
        assert filament_h(tubes[0]) == 10.0
        out = TubeDraft(tubes[0], sockets[0], None, "shelf", "weak")
        late = DAY + timedelta(days=2)
        (row,) = record_tube_moves(
            engineer.station, [out], observed_at=DAY + 4 * HOUR, by=engineer, at=late
        )
        assert filament_h(tubes[0]) == 4.0
        assert (row.entry.observed_at, row.entry.entered_at) == (DAY + 4 * HOUR, late)

    def test_another_time_moves_the_whole_action(self, engineer, transmitter, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        running_day(engineer, transmitter)
        rows = move(
            engineer,
            TubeDraft(tubes[0], sockets[0], None, "shelf", "weak"),
            TubeDraft(tubes[1], None, sockets[0]),
            at=DAY + 6 * HOUR,
        )
        write_moves_anew(
            rows[1],
            observed_at=DAY + 2 * HOUR,
            reason="the clock was read wrongly",
            by=engineer,
            at=DAY + 20 * HOUR,
        )
        assert (filament_h(tubes[0]), filament_h(tubes[1])) == (2.0, 8.0)

    def test_a_struck_move_that_others_follow_is_refused(self, engineer, tubes, sockets):
        first = move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        move(engineer, TubeDraft(tubes[0], sockets[0], None, "shelf", "weak"), at=DAY + HOUR)
        with pytest.raises(TubeConflict):
            void_entry(first[0].entry, reason="wrong", by=engineer, at=DAY + 2 * HOUR)
        assert Entry.objects.current().count() == 2

    def test_the_same_page_sent_twice_is_saved_once(self, engineer, tubes, sockets):
        drafts = [TubeDraft(tubes[0], None, sockets[0])]
        kept = {"observed_at": DAY, "by": engineer, "at": DAY, "client_key": "page-1"}
        first = record_tube_moves(engineer.station, drafts, **kept)
        again = record_tube_moves(engineer.station, drafts, **kept)
        assert [row.pk for row in first] == [row.pk for row in again]


class TestHours:
    @pytest.mark.need(59)
    def test_a_corrected_reading_counts_as_corrected(self, engineer, transmitter, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        running_day(engineer, transmitter)
        last = transmitter.entries.filter(kind="round").order_by("-no").first().round
        meter = transmitter.meters.get(code="filament_hours")
        cells = {meter: typed_for(meter, "509.4")}
        correct_values(last, cells, reason="read wrongly", by=engineer, at=DAY + 11 * HOUR)
        assert filament_h(tubes[0]) == 9.4

    @pytest.mark.case("C18")
    def test_a_frozen_counter_is_marked_estimated(self, engineer, transmitter, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        make_state(engineer, transmitter, observed_at=DAY)
        for hour in range(4):
            make_round(engineer, transmitter, {"filament_hours": "500"}, slot=DAY + hour * HOUR)
        found = build_tube_card(tubes[0], DAY + 3 * HOUR).filament
        assert (round(found.hours, 2), found.is_estimated) == (3.0, True)

    def test_starts_and_black_heat_come_from_the_state_log(
        self, engineer, transmitter, tubes, sockets
    ):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        for hour, state in ((1, "warming"), (2, "on_air"), (5, "black_heat"), (7, "warming")):
            make_state(engineer, transmitter, observed_at=DAY + hour * HOUR, state=state)
        book = HourBook(engineer.station, stays(moves_of(engineer.station)), DAY + 8 * HOUR)
        span = (DAY, DAY + 8 * HOUR)
        assert book.starts(sockets[0].pk, *span) == 2
        assert book.black_heat_h(sockets[0].pk, *span) == 2.0

    def test_the_narrowest_counter_counts(self, engineer, transmitter, tubes, sockets):
        own = make_meter(
            transmitter, "v2_hours", quantity="hours", unit="h", counts="filament",
            socket=sockets[1], full_scale=99_999.9, step=0.1,
        )  # fmt: skip
        book = HourBook(engineer.station, stays(moves_of(engineer.station)), DAY + HOUR)
        assert book.counter_of(sockets[1].pk, "filament") == own
        assert book.counter_of(sockets[0].pk, "filament").code == "filament_hours"


def posted(client: Client, name: str, data: dict, **parts) -> str:
    response = client.post(reverse(name, kwargs=parts), data, follow=True)
    assert response.status_code == 200
    return response.content.decode()


MOVE = {"tube": "A-1", "to": "T1/final/V1", "day": "2026-03-02", "clock": "06:00"}


class TestMovePage:
    def test_a_planner_moves_a_tube(self, planner, tubes, sockets):
        page = posted(signed_in(planner), "tube_move", MOVE)
        assert "put into T1 V1" in page
        assert TubeMove.objects.get().entry.by == planner

    def test_the_tube_that_stands_there_is_asked_about(self, planner, tubes, sockets):
        move(planner, TubeDraft(tubes[1], None, sockets[0]))
        page = posted(signed_in(planner), "tube_move", MOVE)
        assert "Tube B-2 stands in T1 V1 then: say where it goes." in page

    def test_a_reason_is_asked_of_the_tube_that_leaves(self, planner, tubes, sockets):
        move(planner, TubeDraft(tubes[1], None, sockets[0]))
        page = posted(signed_in(planner), "tube_move", {**MOVE, "other_to": "shelf"})
        assert "Say why tube B-2 leaves." in page

    def test_both_ends_move_in_one_action(self, planner, tubes, sockets):
        move(planner, TubeDraft(tubes[1], None, sockets[0]))
        posted(
            signed_in(planner),
            "tube_move",
            {**MOVE, "other_to": "rebuilder", "other_reason": "weak"},
        )
        assert TubeMove.objects.order_by("entry__no").last().place == "rebuilder"

    def test_a_type_that_does_not_fit_is_a_question(self, planner, transmitter, tubes, sockets):
        make_tube(transmitter, "D-9", code="D200")
        page = posted(signed_in(planner), "tube_move", {**MOVE, "tube": "D-9"})
        assert "Type D200 is not among those that fit T1 V1: F200." in page
        answer = {"meant": f"fit:D-9:{sockets[0].pk}"}
        posted(signed_in(planner), "tube_move", {**MOVE, "tube": "D-9", **answer})
        assert TubeMove.objects.get().tube.serial == "D-9"

    def test_a_viewer_may_not(self, viewer, tubes, sockets):
        assert signed_in(viewer).get(reverse("tube_move")).status_code == 403

    def test_a_later_move_that_contradicts_is_said(self, planner, tubes, sockets):
        move(planner, TubeDraft(tubes[0], None, sockets[0]), at=DAY + 8 * HOUR)
        page = posted(signed_in(planner), "tube_move", {**MOVE, "to": "T1/final/V2"})
        assert "cannot leave" in page


class TestCorrectionPages:
    def test_the_time_of_a_move_is_corrected(self, engineer, tubes, sockets):
        row = move(engineer, TubeDraft(tubes[0], None, sockets[0]))[0]
        data = {"day": "2026-03-02", "clock": "04:00", "reason": "told later"}
        page = posted(signed_in(engineer), "correct", data, no=row.entry.no)
        assert "Written anew as entry" in page

    def test_a_move_that_others_follow_is_not_struck(self, engineer, tubes, sockets):
        row = move(engineer, TubeDraft(tubes[0], None, sockets[0]))[0]
        move(engineer, TubeDraft(tubes[0], sockets[0], None, "shelf", "weak"), at=DAY + HOUR)
        page = posted(signed_in(engineer), "void_entry", {"reason": "wrong"}, no=row.entry.no)
        assert "cannot leave T1 V1" in page


class TestLifeCard:
    @pytest.mark.need(59)
    def test_it_tells_every_stay(self, engineer, viewer, transmitter, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        running_day(engineer, transmitter)
        out = TubeDraft(tubes[0], sockets[0], None, "shelf", "gas")
        move(engineer, out, at=DAY + 10 * HOUR)
        page = signed_in(viewer).get(reverse("tube", args=["A-1"])).content.decode()
        for told in ("T1 V1", "500.0, 510.0", "10.0 h", "gas or arcs", "on the shelf"):
            assert told in page

    def test_a_tube_of_another_station_is_not_there(self, stranger, tubes):
        assert signed_in(stranger).get(reverse("tube", args=["A-1"])).status_code == 404


class TestTubeFacts:
    DATA = {"serial": "N-7", "rebuilds": "1", "received_on": "2026-02-01", "earlier_h": "0"}

    def test_a_new_tube_comes_into_the_register(self, planner, tubes):
        data = {**self.DATA, "tube_type": tubes[0].tube_type_id}
        assert "rebuilt once" in posted(signed_in(planner), "tube_new", data)

    def test_a_known_serial_number_is_refused(self, planner, tubes):
        data = {**self.DATA, "tube_type": tubes[0].tube_type_id, "serial": "A-1"}
        page = posted(signed_in(planner), "tube_new", data)
        assert "A tube with this serial number is there already." in page

    def test_a_moved_tube_keeps_its_serial_number(self, planner, tubes, sockets):
        move(planner, TubeDraft(tubes[0], None, sockets[0]))
        data = {**self.DATA, "tube_type": tubes[0].tube_type_id}
        posted(signed_in(planner), "tube_facts", data, serial="A-1")
        assert Tube.objects.get(pk=tubes[0].pk).serial == "A-1"


CHANGE = {
    "day": "2026-03-02",
    "clock": "12:00",
    "scale_low": "0",
    "full_scale": "99999.9",
    "step": "0.1",
    "scale_law": "counter",
}


class TestMeterChange:
    @pytest.mark.case("C16")
    @pytest.mark.parametrize("first", ["0", "312"])
    def test_a_replaced_counter_goes_on(self, first, engineer, transmitter, tubes, sockets):
        move(engineer, TubeDraft(tubes[0], None, sockets[0]))
        running_day(engineer, transmitter, first=41_220.0)
        data = {**CHANGE, "old_last": "41230", "new_first": first}
        parts = {"code": "T1", "meter": "filament_hours"}
        assert "another instrument" in posted(signed_in(engineer), "meter_change", data, **parts)
        make_state(engineer, transmitter, observed_at=DAY + 13 * HOUR, state="on_air")
        read = {"filament_hours": str(int(first) + 2)}
        later = DAY + 15 * HOUR
        make_round(engineer, transmitter, read, slot=later, observed_at=later)
        assert filament_h(tubes[0], later) == 12.0

    @pytest.mark.case("C16")
    def test_more_than_the_clock_is_asked(self, engineer, transmitter, tubes, sockets):
        running_day(engineer, transmitter)
        data = {**CHANGE, "old_last": "530", "new_first": "0"}
        parts = {"code": "T1", "meter": "filament_hours"}
        page = posted(signed_in(engineer), "meter_change", data, **parts)
        assert "It read 510, 2.0 h before: it cannot have come to 530." in page
        assert not MeterChange.objects.exists()

    @pytest.mark.case("C20")
    @pytest.mark.need(55, 56)
    def test_a_re_ranged_meter_is_read_on_its_new_step(self, engineer, transmitter, meter):
        data = {**CHANGE, "full_scale": "50", "step": "0.5", "scale_law": "linear"}
        parts = {"code": "T1", "meter": meter.code}
        posted(signed_in(engineer), "meter_change", data, **parts)
        assert list(
            Instrument.objects.filter(meter=meter)
            .order_by("valid_from")
            .values_list("full_scale", "step", "valid_until")
        ) == [(20.0, 0.2, DAY + 12 * HOUR), (50.0, 0.5, None)]

    @pytest.mark.need(55)
    def test_a_time_before_the_known_instrument_is_refused(self, engineer, meter):
        data = {**CHANGE, "day": "2020-01-01", "scale_law": "linear"}
        parts = {"code": "T1", "meter": meter.code}
        page = posted(signed_in(engineer), "meter_change", data, **parts)
        assert "write a later time" in page

    @pytest.mark.need(55)
    def test_the_register_shows_every_instrument(self, viewer, meter):
        page = signed_in(viewer).get(reverse("meters", args=["T1"])).content.decode()
        assert "0–20 A" in page
