"""Times of day on a sheet; Vienna leaves summer time on 2026-10-25 at 01:00 UTC."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from logbook.clocks import clock

VIENNA = ZoneInfo("Europe/Vienna")


class TestClock:
    def test_usual_hour_stands_alone(self) -> None:
        assert clock(datetime(2026, 10, 25, 12, tzinfo=UTC), VIENNA) == "13:00"

    @pytest.mark.need(28)
    @pytest.mark.case("C9")
    def test_repeated_hour_shows_its_offset(self) -> None:
        twice = [clock(datetime(2026, 10, 25, hour, tzinfo=UTC), VIENNA) for hour in (0, 1)]
        assert twice == ["02:00 +0200", "02:00 +0100"]
