"""What the log tells while flags stand: of the last week its trips, of two weeks what was done."""

from datetime import datetime, timedelta

import pytest

from health.contexts import contexts_of
from health.rules.symptom_table import Context
from logbook.services.tubes import TubeDraft, record_tube_moves
from logbook.times import minute_of
from station.models import Transmitter
from tests.make import (
    SLOT,
    make_check,
    make_sockets,
    make_state,
    make_transmitter,
    make_tube,
)

pytestmark = [pytest.mark.django_db]

DAY = timedelta(days=1)


@pytest.fixture
def transmitter(engineer) -> Transmitter:
    """On the air since four weeks ago."""
    found = make_transmitter()
    make_state(engineer, found, observed_at=SLOT - 28 * DAY)
    return found


def told(transmitter: Transmitter) -> set[Context]:
    return contexts_of(transmitter, minute_of(SLOT) // (24 * 60))


def trip(by, transmitter: Transmitter, at: datetime) -> None:
    make_state(by, transmitter, observed_at=at, state="tripped")
    make_state(by, transmitter, observed_at=at + timedelta(minutes=2))


class TestContextsOf:
    def test_a_quiet_log_is_asked_once_and_tells_nothing(
        self, transmitter, django_assert_num_queries
    ):
        with django_assert_num_queries(1):
            assert told(transmitter) == set()

    def test_three_trips_of_a_week_are_often(self, engineer, transmitter):
        for day in (1, 2, 3):
            trip(engineer, transmitter, SLOT - day * DAY)
        assert told(transmitter) == {Context.TRIPS_OFTEN}

    def test_trips_of_the_week_before_are_not_counted(self, engineer, transmitter):
        for day in (8, 9, 10):
            trip(engineer, transmitter, SLOT - day * DAY)
        assert told(transmitter) == set()

    def test_a_tube_that_changed_its_socket_is_swapped_for_two_weeks(self, engineer, transmitter):
        tube = make_tube(transmitter, "A-1")
        first, second = make_sockets(transmitter)
        for at, places in ((20, (None, first)), (5, (first, second))):
            moved = [TubeDraft(tube, *places)]
            record_tube_moves(
                engineer.station, moved, observed_at=SLOT - at * DAY, by=engineer, at=SLOT
            )
        assert told(transmitter) == {Context.TUBES_SWAPPED}

    def test_a_tube_from_the_shelf_is_no_swap(self, engineer, transmitter):
        tube = make_tube(transmitter, "A-1")
        first, _second = make_sockets(transmitter)
        moved = [TubeDraft(tube, None, first)]
        record_tube_moves(engineer.station, moved, observed_at=SLOT - 5 * DAY, by=engineer, at=SLOT)
        assert told(transmitter) == set()

    def test_the_newest_tone_test_tells(self, engineer, transmitter):
        """Down by 6 % after a test that was down by 1 % only."""
        for day, shift in ((3, -1.0), (1, -6.0)):
            facts = {"carrier_shift_percent": shift}
            at = SLOT - day * DAY
            make_check(engineer, "tone-test", facts, transmitter, observed_at=at)
        assert told(transmitter) == {Context.CARRIER_SHIFT}
