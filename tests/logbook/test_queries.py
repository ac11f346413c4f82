"""What pages ask of the log, over several transmitters at once."""

from datetime import timedelta

import pandas as pd
import pytest

from logbook.frames import standing_points, standing_points_of_all
from logbook.queries import (
    intervals_asked,
    last_readings,
    last_rounds,
    rounds_of_span,
    slots_taken,
)
from logbook.services.corrections import void_entry
from station.models import Meter, Person, Station, Transmitter
from tests.make import SLOT, make_meter, make_round, make_state, make_transmitter

HOUR = timedelta(hours=1)


@pytest.fixture
def other(station: Station) -> Transmitter:
    return make_transmitter(station=station, code="T2")


class TestIntervalsAsked:
    @pytest.mark.need(5)
    def test_states_without_an_interval_are_not_there(self, transmitter: Transmitter) -> None:
        assert intervals_asked([transmitter]) == {transmitter.pk: {"on_air": 60, "reduced": 60}}


class TestSlotsTaken:
    @pytest.mark.case("C30")
    def test_struck_round_takes_no_slot_and_a_duplicate_no_second(
        self, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        first = make_round(shift, transmitter, {meter.code: "12.4"})
        make_round(shift, transmitter, {meter.code: "12.2"})
        assert slots_taken([transmitter], SLOT, SLOT + HOUR) == {transmitter.pk: {SLOT}}
        void_entry(first.entry, reason="slip", by=shift, at=SLOT)
        assert slots_taken([transmitter], SLOT, SLOT + HOUR) == {transmitter.pk: set()}

    def test_extra_round_takes_no_slot(
        self, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        make_round(shift, transmitter, {meter.code: "12.4"}, kind="extra")
        assert slots_taken([transmitter], SLOT, SLOT + HOUR) == {transmitter.pk: set()}


class TestLastRounds:
    def test_each_transmitter_has_its_own_newest_that_counts(
        self, shift: Person, transmitter: Transmitter, other: Transmitter, meter: Meter
    ) -> None:
        first = make_round(shift, transmitter, {meter.code: "12.4"})
        second = make_round(shift, transmitter, {meter.code: "12.2"}, slot=SLOT + HOUR)
        assert last_rounds([transmitter, other]) == {transmitter.pk: second}
        void_entry(second.entry, reason="slip", by=shift, at=SLOT)
        assert last_rounds([transmitter, other]) == {transmitter.pk: first}

    def test_readings_are_those_of_the_wanted_quantities(
        self, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        make_meter(transmitter, "steam", quantity="steam_rate", unit="kg/h", full_scale=250)
        row = make_round(shift, transmitter, {meter.code: "12.4", "steam": "105"})
        found = last_readings([row], ["anode_current"])
        assert [(one.meter, one.value) for one in found] == [(meter, 12.4)]


class TestRoundsOfSpan:
    def test_span_ends_before_its_end_and_keeps_struck_rounds(
        self, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        first = make_round(shift, transmitter, {meter.code: "12.4"})
        make_round(shift, transmitter, {meter.code: "12.4"}, slot=SLOT + HOUR)
        void_entry(first.entry, reason="slip", by=shift, at=SLOT)
        assert rounds_of_span(transmitter, SLOT, SLOT + HOUR) == [first]


class TestStandingPointsOfAll:
    def test_each_transmitter_stands_as_alone(
        self, shift: Person, transmitter: Transmitter, other: Transmitter
    ) -> None:
        make_state(shift, transmitter)
        make_state(shift, transmitter, observed_at=SLOT + HOUR, power_kw=120.0)
        make_state(shift, other, observed_at=SLOT - 50 * HOUR, state="standby")
        found = standing_points_of_all([transmitter, other], SLOT)
        for one in (transmitter, other):
            alone = standing_points(one, SLOT)
            pd.testing.assert_frame_equal(found[one.pk], alone)
