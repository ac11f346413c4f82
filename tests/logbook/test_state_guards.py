"""What a change of state is asked about: antenna taken, off schedule, no authorisation."""

from datetime import date, timedelta

import pytest

from logbook.state_guards import Wished, guards
from station.models import Authorisation, Person, ScheduleLine, Transmitter
from station.schedules import take_schedule
from tests.make import SLOT, make_state, make_transmitter

HOUR = timedelta(hours=1)

pytestmark = pytest.mark.need(21)


def asked(of: Transmitter, **over: object) -> list[str]:
    """The names of the questions about going on the air on 6105 kHz at the usual slot, 0600."""
    wave = of.waves.first()
    facts = {"state": "on_air", "frequency_khz": 6105.0, "antenna": wave.antenna, "power_kw": 200.0}
    wished = Wished(transmitter=of, at=SLOT, **{**facts, **over})
    return [question.name for question in guards(wished)]


def schedule(of: Transmitter, by: Person, start: int, khz: float = 6105.0) -> None:
    facts = {"frequency_khz": khz, "start_min": start, "stop_min": start + 120, "days": "1234567"}
    line = ScheduleLine(station=of.station, transmitter=of, **facts)
    since = SLOT - timedelta(days=30)
    take_schedule(of.station, [line], effective_from=since, note="", by=by, at=since)


def authorise(of: Transmitter, **over: object) -> None:
    facts = {"low_khz": 6105, "high_khz": 6105, "most_power_kw": 200, "reference": "R-1"}
    span = {"valid_from": date(2026, 1, 1), "valid_until": date(2026, 12, 31)}
    Authorisation.objects.create(station=of.station, transmitter=of, **{**facts, **span, **over})


def test_nothing_is_asked_without_schedule_and_papers(transmitter: Transmitter) -> None:
    assert asked(transmitter) == []


class TestAntenna:
    def test_antenna_of_a_set_on_the_air_is_asked_about(
        self, transmitter: Transmitter, shift: Person
    ) -> None:
        other = make_transmitter(code="T2", station=transmitter.station)
        antenna = transmitter.waves.first().antenna
        state = {"state": "on_air", "antenna": antenna}
        make_state(shift, other, observed_at=SLOT - HOUR, **state)
        assert asked(transmitter) == [f"antenna-taken:{antenna.code}:T2"]
        make_state(shift, other, observed_at=SLOT - HOUR / 2, state="standby")
        assert asked(transmitter) == []


class TestSchedule:
    @pytest.mark.parametrize(
        ("start", "names"),
        [
            (360, []),  # begins now
            (385, []),  # begins in 25 minutes: it is being set up
            (240, []),  # has just stopped
            (400, ["off-schedule:6105"]),
            (700, ["off-schedule:6105"]),
        ],
    )
    def test_wave_of_another_hour_is_asked_about(
        self, transmitter: Transmitter, engineer: Person, start: int, names: list[str]
    ) -> None:
        schedule(transmitter, engineer, start)
        assert asked(transmitter) == names

    def test_other_wave_of_this_hour_is_named(
        self, transmitter: Transmitter, engineer: Person
    ) -> None:
        schedule(transmitter, engineer, 360, khz=9690.0)
        wave = transmitter.waves.first()
        wished = Wished(transmitter, SLOT, "on_air", 6105.0, wave.antenna, 200.0)
        (question,) = guards(wished)
        assert "The schedule has 9690 kHz" in question.sentence
        assert question.needs_reason

    def test_standby_is_nobodys_business(self, transmitter: Transmitter, engineer: Person) -> None:
        schedule(transmitter, engineer, 700)
        assert asked(transmitter, state="standby") == []


@pytest.mark.need(81)
class TestAuthorisation:
    def test_covered_is_not_asked_about(self, transmitter: Transmitter) -> None:
        authorise(transmitter)
        assert asked(transmitter) == []

    @pytest.mark.parametrize(
        "over",
        [{"most_power_kw": 120}, {"high_khz": 6100, "low_khz": 6000}]
        + [{"valid_until": date(2026, 3, 1)}],
    )
    def test_outside_it_a_reason_is_asked(
        self, transmitter: Transmitter, over: dict[str, object]
    ) -> None:
        authorise(transmitter, **over)
        assert asked(transmitter) == ["unauthorised:6105"]
