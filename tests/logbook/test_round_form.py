"""The form of a round: times into instants, cells into readings, nothing held up by a cell."""

from datetime import UTC, datetime
from typing import Any

import pytest

from logbook.forms.round import RoundForm
from station.limits import LimitBook
from station.models import Meter, Transmitter
from tests.make import make_meter

NOW = datetime(2026, 3, 2, 14, 45, tzinfo=UTC)
PAGE = {
    "slot_day": "2026-03-02",
    "slot_clock": "14:00",
    "observed": "14:07",
    "kind": "routine",
    "modulation": "on",
    "client_key": "k1",
}


def utc(hour: int, minute: int, day: int = 2) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def form_of(transmitter: Transmitter, now: datetime = NOW, **over: Any) -> RoundForm:
    return RoundForm({**PAGE, **over}, book=LimitBook(transmitter), now=now)


class TestTimes:
    @pytest.mark.need(2)
    def test_slot_and_observed_time_are_two_instants(self, transmitter: Transmitter) -> None:
        form = form_of(transmitter)
        assert form.is_valid()
        assert (form.draft().slot, form.draft().observed_at) == (utc(14, 0), utc(14, 7))

    def test_first_slot_of_a_day_may_be_read_before_midnight(
        self, transmitter: Transmitter
    ) -> None:
        form = form_of(transmitter, slot_clock="00:00", observed="23:58")
        assert form.is_valid()
        assert form.draft().observed_at == utc(23, 58, day=1)

    @pytest.mark.need(87)
    def test_each_panel_group_has_its_own_minute(
        self, transmitter: Transmitter, meter: Meter
    ) -> None:
        water = make_meter(transmitter, "flow", panel_group="Water")
        form = form_of(transmitter, **{"seen-1": "14:11"})
        assert form.is_valid()
        assert form.observed_at_of(meter) == utc(14, 7)
        assert form.observed_at_of(water) == utc(14, 11)

    @pytest.mark.parametrize("text", ["", "25:61", "noon", "\x00", "9" * 30])
    def test_bad_time_gets_a_sentence_at_its_field(
        self, transmitter: Transmitter, text: str
    ) -> None:
        form = form_of(transmitter, observed=text)
        assert not form.is_valid()
        assert set(form.errors) == {"observed"}

    def test_time_that_has_not_come_is_asked_about(self, transmitter: Transmitter) -> None:
        form = form_of(transmitter, observed="15:30")
        assert form.asked == ["observed:2026-03-02T15:30Z"]

    def test_time_that_has_not_come_is_taken_when_it_is_so(self, transmitter: Transmitter) -> None:
        form = form_of(transmitter, observed="15:30", meant="observed:2026-03-02T15:30Z")
        assert form.is_valid()

    @pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "02/03/2026", "2026-02-30", ""])
    def test_bad_day_gets_a_sentence_at_its_field(self, transmitter: Transmitter, day: str) -> None:
        assert set(form_of(transmitter, slot_day=day).errors) == {"slot_day"}


@pytest.mark.need(6)
class TestTyped:
    def test_blank_cell_is_no_reading(self, transmitter: Transmitter, meter: Meter) -> None:
        form = form_of(transmitter, **{f"cell-{meter.code}": " "})
        assert form.is_valid()
        assert form.typed() == {}

    @pytest.mark.case("C8")
    def test_code_key_is_a_code_and_no_number(self, transmitter: Transmitter, meter: Meter) -> None:
        form = form_of(transmitter, **{f"cell-{meter.code}": "-"})
        assert form.is_valid()
        assert (form.typed()[meter].code, form.typed()[meter].value) == ("A", None)

    @pytest.mark.case("C26")
    @pytest.mark.parametrize("text", ["11,0", "11.0", "11 A"])
    def test_comma_point_and_unit_say_the_same(
        self, transmitter: Transmitter, meter: Meter, text: str
    ) -> None:
        form = form_of(transmitter, **{f"cell-{meter.code}": text})
        assert form.is_valid()
        assert form.typed()[meter].value == 11.0

    @pytest.mark.case("C26")
    @pytest.mark.parametrize("text", ["١١", "１１", "1,100.5", "nan", "inf", "1e9", "44", "9" * 39])
    def test_what_is_no_number_holds_nothing_up(
        self, transmitter: Transmitter, meter: Meter, text: str
    ) -> None:
        form = form_of(transmitter, **{f"cell-{meter.code}": text})
        assert form.is_valid()
        assert (form.typed()[meter].code, form.typed()[meter].text) == ("T", text)

    @pytest.mark.parametrize("text", ["1" * 41, "1\x002"])
    def test_what_no_cell_can_keep_gets_a_sentence(
        self, transmitter: Transmitter, meter: Meter, text: str
    ) -> None:
        form = form_of(transmitter, **{f"cell-{meter.code}": text})
        assert set(form.errors) == {f"cell-{meter.code}"}

    def test_meters_of_a_test_are_not_on_the_sheet(self, transmitter: Transmitter) -> None:
        make_meter(transmitter, "tone", occasion="test")
        assert "cell-tone" not in form_of(transmitter).fields
