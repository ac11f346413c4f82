"""The planner's board: hours, dates by rated life, spares, what to order; and the same as JSON."""

import json
from datetime import UTC, date, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.tubes import TubeBoard, build_tube_board
from logbook.services.tubes import TubeDraft, record_tube_moves
from station.models import Person, Station, Transmitter, Tube, TubeType
from tests.make import make_round, make_sockets, make_state, make_transmitter, make_tube
from tests.people import signed_in

START = datetime(2026, 1, 5, tzinfo=UTC)
NOW = START + timedelta(weeks=8)
DAY = timedelta(days=1)

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def fitted(engineer: Person, transmitter: Transmitter, tube: Tube, sockets) -> Tube:
    """In V1 for eight weeks, filaments up from 00:00 to 18:00 of every day."""
    record_tube_moves(
        engineer.station,
        [TubeDraft(tube, None, sockets[0])],
        observed_at=START,
        by=engineer,
        at=START + DAY,
    )
    for day in range(56):
        make_state(engineer, transmitter, observed_at=START + day * DAY)
        off = START + day * DAY + timedelta(hours=18)
        make_state(engineer, transmitter, observed_at=off, state="off")
    return tube


def board(station: Station) -> TubeBoard:
    return build_tube_board(station, NOW)


class TestSockets:
    @pytest.mark.need(59)
    def test_hours_are_those_before_the_log_and_those_of_the_stay(self, station, fitted):
        """6000 h, and 56 days of 18 h by the state log, since no counter was read."""
        line = board(station).sockets[0]
        assert line.hours.filament.hours == pytest.approx(6000 + 56 * 18)
        assert line.hours.filament.estimated == pytest.approx(56 * 18)
        assert (line.hours.starts, line.hours_a_week) == (56, pytest.approx(126))

    def test_dates_are_by_rated_life_and_lead_time(self, station, fitted):
        """Spread 1000 h: (10 000 - 7008) / 126 = 23.7 weeks to (12 000 - 7008) / 126 = 39.6."""
        TubeType.objects.update(life_spread_h=1000)
        line = board(station).sockets[0]
        assert line.early == NOW.date() + timedelta(days=166)
        assert line.late == NOW.date() + timedelta(days=278)
        assert line.order_by == line.early - timedelta(days=274)

    def test_socket_without_a_tube_says_so(self, station, fitted):
        assert board(station).sockets[1].tube is None

    def test_counter_that_was_read_is_not_estimated(self, station, engineer, transmitter, fitted):
        """Read at the start, and every day at 20:00 when the filaments are off."""
        evenings = [(START + day * DAY + timedelta(hours=20), 18 * (day + 1)) for day in range(56)]
        for at, gained in [(START, 0), *evenings]:
            typed = {"filament_hours": f"{100 + gained}"}
            make_round(engineer, transmitter, typed, slot=at, observed_at=at)
        hours = board(station).sockets[0].hours.filament
        assert hours.hours == pytest.approx(6000 + 56 * 18)
        assert not hours.is_estimated


class TestSpares:
    @pytest.mark.need(64)
    def test_longest_on_the_shelf_comes_first_and_rotation_is_overdue(self, transmitter, station):
        """270 days between run-ups: 14 months without one is overdue, and needs conditioning."""
        make_tube(transmitter, "NEW-1", received_on=date(2026, 1, 1), accepted_on=date(2026, 1, 9))
        make_tube(transmitter, "OLD-1", received_on=date(2025, 1, 1), accepted_on=date(2025, 1, 9))
        old, new = board(station).spares
        assert (str(old.tube), old.wants) == ("OLD-1", ("conditioning", "rotation"))
        assert old.rotation_due == date(2025, 9, 28)
        assert (old.is_ready, new.is_ready) == (False, True)

    def test_run_up_on_the_shelf_begins_anew(self, transmitter, station):
        make_tube(transmitter, "OLD-1", accepted_on=date(2025, 1, 9), run_up_on=date(2026, 2, 1))
        [line] = board(station).spares
        assert line.wants == ()

    @pytest.mark.need(86)
    def test_without_its_acceptance_test_a_tube_is_not_ready(self, transmitter, station):
        make_tube(transmitter, "NEW-1", received_on=date(2026, 2, 20))
        [line] = board(station).spares
        assert (line.wants, line.is_ready) == (("acceptance",), False)

    def test_tube_at_the_rebuilder_is_no_spare(self, station, engineer, fitted, sockets):
        out = TubeDraft(fitted, sockets[0], None, "rebuilder", "weak")
        at = NOW - DAY
        record_tube_moves(station, [out], observed_at=at, by=engineer, at=at)
        assert board(station).spares == ()
        assert board(station).away == (fitted,)


class TestOrders:
    def test_first_tube_due_is_ordered_where_no_spare_is_ready(self, station, fitted):
        [line] = board(station).types
        assert line.order_by == board(station).sockets[0].order_by

    def test_ready_spare_takes_the_place_of_the_first_one_due(self, transmitter, station, fitted):
        make_tube(transmitter, "NEW-1", received_on=date(2026, 1, 1), accepted_on=date(2026, 1, 9))
        [line] = board(station).types
        assert (line.ready_spares, line.due_in_lead_time, line.order_by) == (1, 1, None)


class TestPage:
    def test_page_says_by_rated_life(self, planner: Person, fitted: Tube) -> None:
        page = signed_in(planner).get("/tubes").content.decode()
        assert "by rated life" in page
        assert "A-1" in page
        assert "7008" in page

    def test_empty_station_says_so(self, planner: Person) -> None:
        page = signed_in(planner).get("/tubes").content.decode()
        assert "The register has no sockets yet." in page

    def test_same_number_of_queries_for_3_and_12_transmitters(self, station, engineer, fitted):
        counts = []
        for code in ("T3", "M1", *(f"X{number}" for number in range(9))):
            other = make_transmitter(station=station, code=code)
            sockets = make_sockets(other)
            mine = make_tube(other, f"{code}-1")
            drafts = [TubeDraft(mine, None, sockets[0])]
            at = START + DAY
            record_tube_moves(station, drafts, observed_at=at, by=engineer, at=at)
            if code in {"M1", "X8"}:
                with CaptureQueriesContext(
                    connection,
                ) as queries:
                    board(station)
                counts.append(len(queries))
        assert counts[0] == counts[1]


class TestPlanTubes:
    def test_json_says_what_the_board_says(self, station, fitted):
        out = StringIO()
        call_command("plan_tubes", "--json", stdout=out)
        [plan] = json.loads(out.getvalue())
        first = plan["sockets"][0]
        assert plan["life"] == "by rated life"
        assert (first["tube"], first["filament_h"], first["starts"]) == ("A-1", 7008.0, 56)
        assert first["order_by"] == board(station).sockets[0].order_by.isoformat()

    def test_text_names_what_to_order(self, station, fitted):
        out = StringIO()
        call_command("plan_tubes", stdout=out)
        assert "0 ready, order one by" in out.getvalue()
        assert "by rated life" in out.getvalue()
