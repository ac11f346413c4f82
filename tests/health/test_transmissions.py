"""Actual against scheduled: every difference is explained or open."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.transmissions import DayOfTransmitter, build_transmissions
from logbook.services.interruptions import record_restoration
from logbook.services.remarks import record_remark
from station.models import Authorisation, Person, ScheduleLine, Transmitter
from station.schedules import take_schedule
from tests.make import make_interruption, make_state, make_transmitter
from tests.people import signed_in

DAY = datetime(2026, 3, 2, tzinfo=UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
NOW = DAY + timedelta(days=2)

pytestmark = [pytest.mark.need(82), pytest.mark.usefixtures("clock")]


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter) -> Transmitter:
    """Scheduled on 6105 kHz from 0600 to 0800."""
    facts = {"frequency_khz": 6105.0, "start_min": 360, "stop_min": 480, "days": "1234567"}
    line = ScheduleLine(station=transmitter.station, transmitter=transmitter, **facts)
    version = {"effective_from": DAY - timedelta(days=30), "note": "", "by": engineer, "at": DAY}
    take_schedule(transmitter.station, [line], **version)
    return transmitter


def on(by: Person, plant: Transmitter, at: datetime, khz: float = 6105.0, kw: float = 200) -> None:
    facts = {"state": "on_air", "frequency_khz": khz, "power_kw": float(kw)}
    make_state(by, plant, observed_at=at, **facts)


def off(by: Person, plant: Transmitter, at: datetime) -> None:
    make_state(by, plant, observed_at=at, state="standby")


def day_of(plant: Transmitter) -> DayOfTransmitter:
    return build_transmissions(plant.station, DAY, DAY + 24 * HOUR, NOW).days[0]


def told(plant: Transmitter) -> list[tuple[str, float, float, int]]:
    """Kind, minutes past six of begin and end, how many entries explain it."""
    six = DAY + 6 * HOUR
    return [
        (one.kind, (one.begin - six) / MINUTE, (one.end - six) / MINUTE, len(one.explained_by))
        for one in day_of(plant).differences
    ]


def test_as_scheduled_there_is_no_difference(plant: Transmitter, shift: Person) -> None:
    """Half a minute is the clock's and the hand's."""
    on(shift, plant, DAY + 6 * HOUR + MINUTE / 2)
    off(shift, plant, DAY + 8 * HOUR + MINUTE / 2)
    assert told(plant) == []


def test_late_start_and_over_run_are_two(plant: Transmitter, shift: Person) -> None:
    on(shift, plant, DAY + 6 * HOUR + 4 * MINUTE)
    off(shift, plant, DAY + 8 * HOUR + 3 * MINUTE)
    assert told(plant) == [("not-on-air", 0, 4, 0), ("not-scheduled", 120, 123, 0)]


def test_trip_is_explained_by_its_interruption(plant: Transmitter, shift: Person) -> None:
    on(shift, plant, DAY + 6 * HOUR)
    off(shift, plant, DAY + 7 * HOUR)
    on(shift, plant, DAY + 7 * HOUR + 10 * MINUTE)
    off(shift, plant, DAY + 8 * HOUR)
    assert told(plant) == [("not-on-air", 60, 70, 0)]
    entry = make_interruption(shift, plant, begin=DAY + 7 * HOUR)
    facts = {"found": "", "mode": "", "mechanism": "", "repair_min": None}
    end = DAY + 7 * HOUR + 10 * MINUTE
    record_restoration(entry.interruption, end, facts, by=shift, at=NOW)
    assert told(plant) == [("not-on-air", 60, 70, 1)]


def test_other_wave_is_missed_and_unscheduled(plant: Transmitter, shift: Person) -> None:
    on(shift, plant, DAY + 6 * HOUR, khz=9690.0)
    off(shift, plant, DAY + 8 * HOUR)
    assert told(plant) == [("not-on-air", 0, 120, 0), ("not-scheduled", 0, 120, 0)]


def test_remark_within_it_explains_it(plant: Transmitter, shift: Person) -> None:
    facts = {"station": plant.station, "transmitter": plant, "by": shift, "at": NOW}
    record_remark("no programme agreed", observed_at=DAY + 7 * HOUR, **facts)
    assert told(plant) == [("not-on-air", 0, 120, 1)]


def test_change_of_power_in_between_is_no_difference(plant: Transmitter, shift: Person) -> None:
    on(shift, plant, DAY + 6 * HOUR)
    on(shift, plant, DAY + 7 * HOUR, kw=120)
    off(shift, plant, DAY + 8 * HOUR)
    assert told(plant) == []
    assert [one.power_kw for one in day_of(plant).on_air] == [200, 120]


@pytest.mark.need(81)
def test_outside_an_authorisation_is_a_difference(plant: Transmitter, shift: Person) -> None:
    on(shift, plant, DAY + 6 * HOUR)
    off(shift, plant, DAY + 8 * HOUR)
    Authorisation.objects.create(
        station=plant.station,
        transmitter=plant,
        low_khz=6105,
        high_khz=6105,
        most_power_kw=120,
        valid_from=date(2026, 1, 1),
        valid_until=date(2026, 12, 31),
        reference="R-1",
    )
    assert told(plant) == [("not-authorised", 0, 120, 0)]


def test_asks_as_much_of_three_transmitters_as_of_one(plant: Transmitter, shift: Person) -> None:
    counts = []
    for codes in ((), ("T2", "T3")):
        for code in codes:
            on(shift, make_transmitter(code=code, station=plant.station), DAY + 6 * HOUR)
        with CaptureQueriesContext(connection) as captured:
            day_of(plant)
        counts.append(len(captured))
    assert counts[0] == counts[1]


class TestPages:
    def test_day_is_shown_with_what_is_open(self, plant: Transmitter, shift: Person) -> None:
        page = signed_in(shift).get("/transmissions/2026-03-02").content.decode()
        assert "scheduled and not on the air" in page
        assert "/log/T1/remark?at=2026-03-02T06:00Z" in page

    @pytest.mark.need(24)
    def test_hall_counts_the_minutes_to_the_next_start(
        self, plant: Transmitter, shift: Person
    ) -> None:
        page = " ".join(signed_in(shift).get("/hall").content.decode().split())
        assert "<strong>360 minutes</strong> to the start on 6105 kHz" in page
