"""Slots and clock times: expected instants worked by hand."""

from datetime import UTC, date, datetime, time

import pytest

from logbook.slots import late_minutes, latest_slot, nearest, parse_slot, slot_text, slots_of_day


def utc(hour: int, minute: int, day: int = 2) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


class TestLatestSlot:
    def test_within_the_hour_is_the_hour(self) -> None:
        assert latest_slot(utc(14, 40), 60) == utc(14, 0)

    def test_at_the_slot_is_that_slot(self) -> None:
        assert latest_slot(utc(14, 30), 30) == utc(14, 30)


class TestParseSlot:
    def test_what_was_written_reads_back(self) -> None:
        assert parse_slot(slot_text(utc(14, 0))) == utc(14, 0)

    @pytest.mark.parametrize(
        "text",
        ["", "x", "0001-01-01T00:00Z", "9999-12-31T23:00Z", "2026-02-30T00:00Z", "2026-03-02T14:00"]
        + ["\x00", "2026-03-02T24:00Z", "2026-03-02T14:00Z" * 20],
    )
    def test_no_slot_of_a_sensible_year_is_none(self, text: str) -> None:
        assert parse_slot(text) is None


class TestNearest:
    def test_same_day_is_kept(self) -> None:
        assert nearest(utc(14, 0), time(14, 40)) == utc(14, 40)

    def test_before_midnight_for_the_first_slot_is_the_day_before(self) -> None:
        assert nearest(utc(0, 0, day=3), time(23, 58)) == utc(23, 58, day=2)


class TestSlotsOfDay:
    def test_an_hour_apart_are_24_in_utc(self) -> None:
        slots = slots_of_day(date(2026, 10, 25), 60)
        assert (len(slots), len(set(slots))) == (24, 24)


@pytest.mark.need(2)
class TestLateMinutes:
    def test_at_the_allowance_is_in_time(self) -> None:
        assert late_minutes(utc(14, 0), utc(14, 15), 15) == 0

    def test_past_the_allowance_is_late(self) -> None:
        assert late_minutes(utc(14, 0), utc(14, 16), 15) == 16
