"""Seasons, days, midnight and versions of the schedule, worked by hand on a calendar."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from station.broadcasts import (
    Line,
    Version,
    broadcasts,
    last_sunday,
    overlaps,
    scheduled,
    season_of,
)

SUNDAY = datetime(2026, 3, 1, tzinfo=UTC)  # day digit 1
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def line(start: int, stop: int, days: str = "1234567", **over: object) -> Line:
    return Line(1, 6105.0, start * 60, stop * 60, frozenset(days), **over)


def spans(found: list) -> list[tuple[float, float]]:
    """Hours since the Sunday."""
    return [((one.begin - SUNDAY) / HOUR, (one.end - SUNDAY) / HOUR) for one in found]


@pytest.mark.need(24)
class TestSeasons:
    @pytest.mark.parametrize(
        ("instant", "name"),
        [
            ("2026-03-29T00:59", "B25"),
            ("2026-03-29T01:00", "A26"),
            ("2026-10-25T00:59", "A26"),
            ("2026-10-25T01:00", "B26"),
            ("2027-03-28T00:59", "B26"),
            ("2027-03-28T01:00", "A27"),
        ],
    )
    def test_turns_are_those_of_the_demo_station(self, instant: str, name: str) -> None:
        """The turns of 2026 and 2027 as the demo station's description states them."""
        assert season_of(datetime.fromisoformat(instant).replace(tzinfo=UTC))[0] == name

    @settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(st.integers(1970, 2100), st.sampled_from([3, 10]))
    def test_last_sunday_is_a_sunday_of_the_last_week(self, year: int, month: int) -> None:
        found = last_sunday(year, month)
        assert (found.isoweekday(), found.month) == (7, month)
        assert (found + timedelta(days=7)).month != month


@pytest.mark.need(25)
@pytest.mark.case("C25")
class TestDays:
    def test_day_seven_runs_into_day_one(self) -> None:
        """2300-0100 on day 7, Saturday, ends on Sunday."""
        found = broadcasts([line(23, 1, "7")], SUNDAY - DAY, SUNDAY + 7 * DAY)
        assert spans(found) == [(-1, 1), (167, 168)]

    def test_night_before_the_span_is_cut_to_it(self) -> None:
        assert spans(broadcasts([line(23, 1)], SUNDAY, SUNDAY + 2 * HOUR)) == [(0, 1)]

    def test_2400_and_0000_are_one_stop(self) -> None:
        whole = [broadcasts([line(20, stop)], SUNDAY, SUNDAY + DAY) for stop in (0, 24)]
        assert spans(whole[0]) == spans(whole[1]) == [(20, 24)]

    def test_whole_day_is_a_whole_day(self) -> None:
        assert spans(broadcasts([line(0, 24, "1")], SUNDAY, SUNDAY + 2 * DAY)) == [(0, 24)]

    def test_valid_days_are_those_of_the_start(self) -> None:
        valid = {"valid_from": date(2026, 3, 2), "valid_until": date(2026, 3, 3)}
        found = broadcasts([line(23, 1, **valid)], SUNDAY, SUNDAY + 7 * DAY)
        assert spans(found) == [(47, 49), (71, 73)]


@pytest.mark.need(26)
class TestVersions:
    def test_each_instant_goes_by_the_version_then_in_force(self) -> None:
        old = Version(SUNDAY - 30 * DAY, (line(6, 12),))
        new = Version(SUNDAY + 9 * HOUR, (line(8, 14),))
        found = scheduled([new, old], SUNDAY, SUNDAY + DAY)
        assert spans(found) == [(6, 9), (9, 14)]

    def test_before_the_first_version_nothing_is_scheduled(self) -> None:
        version = Version(SUNDAY + DAY, (line(6, 12),))
        assert spans(scheduled([version], SUNDAY, SUNDAY + 2 * DAY)) == [(30, 36)]


@pytest.mark.need(25)
class TestOverlaps:
    @pytest.mark.parametrize(
        ("one", "other", "is_refused"),
        [
            (line(6, 8), line(8, 10), False),
            (line(6, 9), line(8, 10), True),
            (line(23, 1, "7"), line(0, 2, "1"), True),
            (line(23, 1, "7"), line(0, 2, "7"), False),
            (line(6, 8, "1"), line(6, 8, "2"), False),
            (line(6, 8, valid_until=date(2026, 3, 5)), line(6, 8, valid_from=date(2026, 3, 7)), 0),
        ],
    )
    def test_lines_of_one_set_may_not_share_a_minute(
        self, one: Line, other: Line, is_refused: bool
    ) -> None:
        assert bool(overlaps([one, other])) == bool(is_refused)
        assert bool(overlaps([other, one])) == bool(is_refused)

    def test_two_sets_may_be_on_at_once(self) -> None:
        assert overlaps([line(6, 8), Line(2, 6105.0, 360, 480)]) == []
