"""What the saved round asks about an hour counter that cannot be true, or stands still."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from logbook.models import Round
from logbook.models.round import Mark
from logbook.saved_round import saved_board
from logbook.services.corrections import correct_values
from station.models import Person, Transmitter
from tests.make import make_meter, make_round, make_state, typed_for

DAY = datetime(2026, 3, 2, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def counted(engineer: Person, transmitter: Transmitter) -> Transmitter:
    """On the air from midnight, with a counter of 99 999.9 h read in steps of 0.1 h."""
    make_meter(
        transmitter,
        "filament_hours",
        quantity="hours",
        unit="h",
        counts="filament",
        full_scale=99_999.9,
        step=0.1,
        scale_law="counter",
    )
    make_state(engineer, transmitter, observed_at=DAY)
    return transmitter


def asked(by: Person, transmitter: Transmitter, first: str, hours: float, then: str) -> list[str]:
    """What is asked when the counter read ``first`` at 01:00 and ``then`` so much later."""
    for slot, text in ((DAY + HOUR, first), (DAY + HOUR * (1 + hours), then)):
        row = make_round(by, transmitter, {"filament_hours": text}, slot=slot, observed_at=slot)
    return [look.sentence for line in saved_board(row).by_meter for look in line.looks]


class TestGain:
    @pytest.mark.case("C17")
    def test_26_hours_in_a_day_are_asked(self, engineer, counted):
        [sentence] = asked(engineer, counted, "500.0", 24, "526.0")
        assert "a gain of 26.0 h is more than the clock's" in sentence

    @pytest.mark.case("C15")
    def test_a_turn_that_fits_the_clock_is_not_asked(self, engineer, counted):
        assert asked(engineer, counted, "99998.0", 14, "12.0") == []

    @pytest.mark.case("C15")
    def test_backwards_is_asked(self, engineer, counted):
        [sentence] = asked(engineer, counted, "500.0", 2, "499.0")
        assert "it went backwards" in sentence

    def test_what_the_clock_allows_is_not_asked(self, engineer, counted):
        assert asked(engineer, counted, "500.0", 2, "502.0") == []

    def test_a_first_reading_is_not_asked(self, engineer, counted):
        row = make_round(engineer, counted, {"filament_hours": "7"}, slot=DAY + HOUR)
        assert saved_board(row).by_meter == ()

    def test_a_confirmed_one_is_not_asked_again(self, engineer, counted):
        asked(engineer, counted, "500.0", 24, "526.0")
        meter, row = counted.meters.get(code="filament_hours"), Round.objects.latest("slot")
        again = {meter: replace(typed_for(meter, "526.0"), mark=Mark.CONFIRMED)}
        correct_values(row, again, reason="read again", by=engineer, at=DAY + 26 * HOUR)
        assert saved_board(row).by_meter == ()


class TestStandsStill:
    @pytest.mark.case("C18")
    def test_the_same_reading_on_the_air_is_asked(self, engineer, counted):
        [sentence] = asked(engineer, counted, "500.0", 3, "500.0")
        assert "it should have counted 3.0 h since" in sentence

    @pytest.mark.case("C18")
    def test_the_same_reading_while_the_filaments_are_off_is_right(self, engineer, counted):
        make_state(engineer, counted, observed_at=DAY + HOUR, state="off")
        assert asked(engineer, counted, "500.0", 3, "500.0") == []
