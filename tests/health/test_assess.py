"""Judging: pending or anew gives the same, and what is written late re-judges what it touches."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.management import call_command

from health.assess import assess
from health.models import Episode, Judging, LearningPoint
from health.pending import pending_entries
from logbook import port
from logbook.models import Entry, Reading
from logbook.services.corrections import correct_values, void_entry
from logbook.times import minute_of
from station.models import Meter, Person, Transmitter
from station.signals import tell_limits_changed
from tests.make import (
    SLOT,
    make_check,
    make_limit,
    make_meter,
    make_round,
    make_state,
    make_wave,
    typed_for,
)

HOUR = timedelta(hours=1)


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter, meter: Meter) -> Transmitter:
    """On air, with the alarm limits 10.8 and 14.0 A."""
    make_limit(meter)
    make_state(engineer, transmitter)
    return transmitter


def flags() -> list[tuple[str, int, Any]]:
    """(rule, hours after the usual slot at which it began, at which it ended)."""
    return [
        (
            row.rule,
            (row.since - SLOT) // HOUR,
            None if row.until is None else (row.until - SLOT) // HOUR,
        )
        for row in Episode.objects.all()
    ]


def rounds(by: Person, plant: Transmitter, *values: str) -> list[Any]:
    """One round an hour."""
    return [
        make_round(by, plant, {"v1_anode_current": value}, slot=SLOT + number * HOUR)
        for number, value in enumerate(values)
    ]


class TestAssess:
    def test_saved_round_is_judged_at_once(self, plant: Transmitter, engineer: Person) -> None:
        rounds(engineer, plant, "12.4", "14.0", "12.4")
        assert flags() == [("limit-high", 1, 2)]

    @pytest.mark.need(52)
    def test_corrected_slip_takes_its_flag_away(
        self, plant: Transmitter, engineer: Person, meter: Meter
    ) -> None:
        slip = rounds(engineer, plant, "12.4", "1.24", "12.4")[1]
        assert flags() == [("limit-low", 1, 2)]
        correct_values(slip, {meter: typed_for(meter, "12.4")}, reason="slip", by=engineer, at=SLOT)
        assert flags() == []

    def test_voided_round_takes_its_flag_away(self, plant: Transmitter, engineer: Person) -> None:
        wrong = rounds(engineer, plant, "12.4", "15", "12.4")[1]
        void_entry(wrong.entry, reason="another transmitter", by=engineer, at=SLOT)
        assert flags() == []

    @pytest.mark.need(15)
    @pytest.mark.case("C6")
    def test_standby_ends_a_flag_and_raises_none(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        rounds(engineer, plant, "9")
        make_state(engineer, plant, state="standby", observed_at=SLOT + timedelta(minutes=30))
        make_round(engineer, plant, {"v1_anode_current": "0"}, slot=SLOT + HOUR)
        assert flags() == [("limit-low", 0, 1)]

    @pytest.mark.case("C5")
    def test_state_at_the_observed_time_gives_the_limits(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        make_state(engineer, plant, state="standby", observed_at=SLOT + timedelta(minutes=30))
        late = SLOT + timedelta(minutes=40)
        make_round(engineer, plant, {"v1_anode_current": "0"}, observed_at=late)
        assert flags() == []

    @pytest.mark.case("C13")
    def test_wave_written_late_judges_anew_without_touching_a_reading(
        self, plant: Transmitter, engineer: Person, meter: Meter
    ) -> None:
        make_limit(meter, frequency_khz=9690.0, low_alarm=12.0)
        rounds(engineer, plant, "12.4", "11.8", "12.4")
        before = list(Reading.objects.values_list())
        assert flags() == []
        wave = make_wave(plant, 9690.0)
        at = SLOT + timedelta(minutes=30)
        make_state(engineer, plant, frequency_khz=wave.frequency_khz, observed_at=at)
        assert flags() == [("limit-low", 1, 2)]
        assert list(Reading.objects.values_list()) == before

    def test_duplicate_round_raises_nothing(self, plant: Transmitter, engineer: Person) -> None:
        rounds(engineer, plant, "12.4")
        rounds(engineer, plant, "15")
        assert flags() == []

    def test_changed_limit_judges_anew_from_its_instant(
        self,
        plant: Transmitter,
        engineer: Person,
        meter: Meter,
        django_capture_on_commit_callbacks: Any,
    ) -> None:
        rounds(engineer, plant, "12.4", "13.4", "13.4")
        since = SLOT + 2 * HOUR
        make_limit(meter, high_alarm=13.3, valid_from=since)
        with django_capture_on_commit_callbacks(execute=True):
            tell_limits_changed(plant, since)
        assert Judging.objects.get().rejudge_from is not None
        assess(plant)
        assert flags() == [("limit-high", 2, None)]

    def test_every_entry_is_marked_judged(self, plant: Transmitter, engineer: Person) -> None:
        rounds(engineer, plant, "12.4", "15")
        assert Entry.objects.count() == Judging.objects.get().judged_no == 3
        assert not pending_entries([plant]).exists()


class TestRebuild:
    def test_rebuild_gives_what_the_saves_gave(self, plant: Transmitter, engineer: Person) -> None:
        rounds(engineer, plant, "12.4", "15", "/", "9", "12.4", "14.5")
        before = list(Episode.objects.values_list(*COMPARED))
        assess(plant, rebuild=True)
        assert list(Episode.objects.values_list(*COMPARED)) == before
        assert len(before) == 3

    def test_log_written_with_nobody_listening_is_judged_later(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        with port.silent():
            rounds(engineer, plant, "12.4", "15")
        assert flags() == []
        call_command("assess")
        assert flags() == [("limit-high", 1, None)]


COMPARED = ("rule", "meter_id", "first_no", "since_minute", "until_minute", "priority", "evidence")


def test_save_leaves_a_backlog_to_the_command(
    plant: Transmitter, engineer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After an import the first save is answered at once, and judged with the rest later."""
    monkeypatch.setattr("health.answers.MOST_AT_ONCE", 2)
    with port.silent():
        rounds(engineer, plant, "12.4", "15")
    make_round(engineer, plant, {"v1_anode_current": "12.4"}, slot=SLOT + 2 * HOUR)
    assert flags() == []
    assess(plant)
    assert flags() == [("limit-high", 1, 2)]


def test_save_leaves_a_long_log_that_nobody_judged_to_the_command(
    plant: Transmitter, engineer: Person
) -> None:
    """What a save has the lock for must be short: the log comes before the analysis."""
    with port.silent():
        make_round(engineer, plant, {"v1_anode_current": "15"}, slot=SLOT - 40 * 24 * HOUR)
    make_round(engineer, plant, {"v1_anode_current": "12.4"})
    assert flags() == []
    assess(plant)
    assert [rule for rule, *_span in flags()] == ["limit-high"]


def test_save_leaves_what_was_corrected_long_after_to_the_command(
    plant: Transmitter, engineer: Person
) -> None:
    make_round(engineer, plant, {"v1_anode_current": "12.4"}, slot=SLOT)
    Judging.objects.update(learned_until=minute_of(SLOT + 40 * 24 * HOUR))
    make_round(engineer, plant, {"v1_anode_current": "15"}, slot=SLOT + HOUR)
    assert flags() == []


@pytest.mark.need(43)
class TestWeather:
    """Rain moves what hangs on the aerial: written late, it moves what was learned of that day."""

    def learned_of(self) -> set[str]:
        return set(LearningPoint.objects.values_list("channel", flat=True))

    @pytest.fixture
    def days(self, engineer: Person, transmitter: Transmitter) -> None:
        """A day that has ended, and the first round of the next."""
        make_meter(transmitter, "reflected_power", quantity="reflected_power", unit="kW")
        make_state(engineer, transmitter)
        for slot in (SLOT, SLOT + HOUR, SLOT + 24 * HOUR):
            make_round(engineer, transmitter, {"reflected_power": "1.0"}, slot=slot)

    def test_weather_written_late_is_judged_by(self, days: None, engineer: Person) -> None:
        assert self.learned_of() == {"reflected_power dry"}
        make_check(engineer, "weather", {"code": "rain"}, observed_at=SLOT, at=SLOT + 30 * HOUR)
        assert self.learned_of() == {"reflected_power wet"}

    def test_voided_weather_is_not(self, days: None, engineer: Person) -> None:
        told = make_check(engineer, "weather", {"code": "rain"}, observed_at=SLOT)
        void_entry(told, reason="of yesterday", by=engineer, at=SLOT + 31 * HOUR)
        assert self.learned_of() == {"reflected_power dry"}

    def test_weather_before_any_reading_costs_nothing(
        self, transmitter: Transmitter, engineer: Person
    ) -> None:
        make_check(engineer, "weather", {"code": "rain"})
        assert not Judging.objects.exists()
