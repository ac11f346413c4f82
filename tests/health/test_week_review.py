"""The engineer's review: the list by what it costs to ignore, decisions, and the signed week."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.week_decisions import items_of
from health.boards.week_items import Cost
from health.boards.week_review import Line, Review, build_review
from health.boards.week_stands import Stand
from health.models import Drift, Episode
from logbook.frames import standing_points_of_all
from logbook.models import Signature
from logbook.services.corrections import void_entry
from station.models import Meter, Person, Station, Transmitter
from tests.health.week_plant import (
    DAY,
    HOUR,
    MISSED,
    MONDAY,
    WEDNESDAY,
    WEEK,
    decide,
    key_of,
    make_low,
    make_power,
    on_air,
    read,
    review,
    sign,
)
from tests.make import make_limit, make_meter, make_round, make_transmitter

NOW = WEDNESDAY

pytestmark = [pytest.mark.need(51), pytest.mark.usefixtures("clock")]


@pytest.fixture
def power(transmitter: Transmitter) -> Meter:
    return make_power(transmitter)


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, power: Meter) -> Transmitter:
    """Two rounds are asked for on Monday."""
    return on_air(shift, transmitter)


@pytest.fixture
def low(plant: Transmitter, shift: Person) -> Episode:
    return make_low(shift, plant)


def line_of(found: Review, key: str) -> Line:
    return next(line for line in found.lines if line.item.key == key)


class TestRank:
    @pytest.fixture
    def drifts(self, transmitter: Transmitter, power: Meter) -> None:
        """Three that are told: with no date, in 90 days, in 20."""
        for channel, days in (("a", None), ("b", 90.0), ("c", 20.0)):
            facts = {"transmitter": transmitter, "meter": power, "channel": channel, "unit": "kW"}
            told = {"points": 12, "p": 0.001, "slope_per_1000h": 1.0, "limit": 210.0}
            Drift.objects.create(day=20500, days_low=days, days_high=days, **facts, **told)

    def test_dearest_to_ignore_is_first(
        self, plant: Transmitter, shift: Person, drifts: None
    ) -> None:
        """A high flag, a medium one, drifts by date, a missed round, a changed limit."""
        high, water = make_meter(plant, "ht"), make_meter(plant, "water")
        make_limit(high, priority="high")
        make_limit(water, valid_from=MONDAY + HOUR, reason="summer")
        values = {"forward_power": "201", "ht": "20", "water": "20"}
        make_round(shift, plant, values, slot=MONDAY + 11 * HOUR)
        found = [
            (line.item.cost, line.item.key.split("/")[0]) for line in review(plant.station).lines
        ]
        assert found == [
            (Cost.PROTECTION, "flag"),
            (Cost.AIR_TIME, "flag"),
            *[(Cost.SLOW_CHANGE, "drift")] * 3,
            (Cost.EVIDENCE, "missed"),
            (Cost.FORMALITY, "limit"),
        ]
        keys = [line.item.key for line in review(plant.station).lines]
        assert keys[0].startswith("flag/T1/ht/")
        assert keys[2:5] == ["drift/T1/c", "drift/T1/b", "drift/T1/a"]

    def test_drift_is_measured_by_the_day_of_its_limit(
        self, transmitter: Transmitter, drifts: None
    ) -> None:
        """As known at the end of day 20500, 20 days on: day 20521."""
        line = line_of(review(transmitter.station), "drift/T1/c")
        assert line.item.measure == -20521

    def test_every_item_has_a_key_of_its_own(self, low: Episode, drifts: None) -> None:
        station, one = low.transmitter.station, low.transmitter
        span = {"since": MONDAY, "until": NOW, "now": NOW}
        found = list(items_of(station, [one], standing_points_of_all([one], MONDAY), **span))
        assert len({one.key for one in found}) == len(found) == 4


class TestFlag:
    @pytest.mark.need(35)
    def test_standing_flag_is_open_until_it_is_decided(
        self, low: Episode, engineer: Person
    ) -> None:
        key = key_of(low)
        assert [line.item.key for line in review(engineer.station).to_decide] == [key]
        decide(engineer, key, measure=2.0)
        assert review(engineer.station).to_decide == []
        assert [line.item.key for line in review(engineer.station).decided] == [key]

    def test_later_decision_takes_its_place_and_a_struck_one_gives_it_back(
        self, low: Episode, engineer: Person
    ) -> None:
        key = key_of(low)
        decide(engineer, key, measure=2.0)
        work = decide(engineer, key, "plan-work", reason="fan by Friday", measure=2.0)
        assert line_of(review(engineer.station), key).stand == Stand.CARRIED
        void_entry(work.entry, reason="wrong set", by=engineer, at=NOW)
        assert line_of(review(engineer.station), key).stand == Stand.DECIDED

    @pytest.mark.need(31)
    def test_planned_work_is_carried_until_the_flag_is_gone(
        self, low: Episode, engineer: Person, shift: Person
    ) -> None:
        key, next_week = key_of(low), MONDAY + WEEK
        decide(engineer, key, "plan-work", reason="fan", measure=2.0)
        later = review(engineer.station, next_week, next_week + DAY)
        assert [(one.item.key, one.weeks) for one in later.carried] == [(key, 1)]
        Episode.objects.update(until_minute=low.since_minute + 8 * 24 * 60)
        over = review(engineer.station, next_week, next_week + 3 * DAY)
        assert (over.carried, [one.stand for one in over.decided]) == ([], [Stand.GONE])

    def test_undecided_flag_that_ended_went_by_itself(self, low: Episode, engineer: Person) -> None:
        Episode.objects.update(until_minute=low.since_minute + 8 * 24 * 60)
        next_week = MONDAY + WEEK
        found = review(engineer.station, next_week, next_week + 3 * DAY)
        assert [(one.item.key, one.decision) for one in found.gone] == [(key_of(low), None)]
        assert found.to_decide == []

    def test_flag_of_a_later_week_is_not_on_this_list(self, low: Episode, engineer: Person) -> None:
        assert review(engineer.station, MONDAY - WEEK, NOW).lines == ()

    def test_raised_again_it_comes_back_and_says_so(self, low: Episode, engineer: Person) -> None:
        """The same rule on the same meter, begun by another entry."""
        no = decide(engineer, key_of(low), measure=2.0).entry.no
        Episode.objects.update(first_no=low.first_no + 1)
        (line,) = review(engineer.station).to_decide
        assert line.stand == Stand.BACK
        assert line.why == f"raised again; of the flag before it entry {no} decided: watch"


class TestCarried:
    """Both rounds of Monday were missed, and nobody says why."""

    def test_undecided_item_of_last_week_is_told_with_its_age(self, plant: Transmitter) -> None:
        found = review(plant.station, MONDAY + 2 * WEEK, MONDAY + 2 * WEEK + DAY)
        assert [(one.item.key, one.weeks) for one in found.to_decide] == [(MISSED, 2)]

    def test_decided_it_is_not_told_again(self, plant: Transmitter, engineer: Person) -> None:
        decide(engineer, MISSED, measure=2.0)
        assert line_of(review(plant.station), MISSED).stand == Stand.DECIDED
        assert review(plant.station, MONDAY + WEEK, MONDAY + WEEK + DAY).lines == ()

    def test_weeks_that_nobody_signed_are_looked_through_for_four(self, plant: Transmitter) -> None:
        fourth, fifth = MONDAY + 4 * WEEK, MONDAY + 5 * WEEK
        assert len(review(plant.station, fourth, fourth + DAY).to_decide) == 1
        assert review(plant.station, fifth, fifth + DAY).lines == ()

    def test_what_a_signed_week_left_open_is_carried_on(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        sign(engineer, 1)
        ninth = MONDAY + 9 * WEEK
        found = review(plant.station, ninth, ninth + DAY)
        assert [(one.item.key, one.weeks) for one in found.to_decide] == [(MISSED, 9)]

    def test_what_was_left_open_and_is_no_more_went_by_itself(
        self, low: Episode, engineer: Person
    ) -> None:
        sign(engineer, 1)
        Episode.objects.all().delete()
        found = review(engineer.station, MONDAY + WEEK, MONDAY + WEEK + DAY)
        assert [one.item.key for one in found.gone] == [key_of(low)]
        (kept,) = Signature.objects.get().left_open
        assert found.gone[0].item.words == kept["words"]


class TestQueries:
    def test_as_many_for_three_transmitters_as_for_twelve(
        self, plant: Transmitter, shift: Person, engineer: Person
    ) -> None:
        for number in range(2, 4):
            self.furnish(shift, engineer, number)
        three = self.count(plant.station)
        for number in range(4, 13):
            self.furnish(shift, engineer, number)
        assert self.count(plant.station) == three

    def furnish(self, shift: Person, engineer: Person, number: int) -> None:
        """One with a flag and a missed round that is decided."""
        other = make_transmitter(station=shift.station, code=f"T{number}")
        make_power(other)
        on_air(shift, other)
        read(shift, other, 11, "100")
        decide(engineer, f"missed/T{number}/2026-03-02", measure=1.0)

    def count(self, station: Station) -> int:
        with CaptureQueriesContext(connection) as captured:
            build_review(station, MONDAY, NOW)
        return len(captured)
