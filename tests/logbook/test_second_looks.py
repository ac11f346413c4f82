"""What a round is asked about: bands and steps of the demo station's sheet, worked by hand."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from logbook.reading_text import Scale, read_typed
from logbook.second_looks import Cell, cell_level, looks_at_cell, looks_at_round
from station.limit_rows import InstrumentVersion
from station.limits import NO_BAND, Band, Place
from station.models import Meter

ON_AIR = Place("on_air", 6105.0, 200.0, "tap", "on")
INSTRUMENT = InstrumentVersion(1, datetime(2026, 1, 1, tzinfo=UTC), None, 0, 20, None, 0.2, 1.5, "")
ANODE = Band(12.4, 10.8, 11.6, 13.2, 14.0, limit_id=1)


def cell(
    text: str,
    band: Band = ANODE,
    state: str = "on_air",
    code: str = "v1",
    law: str = "linear",
    **over: object,
) -> Cell:
    """A cell of a final anode current: 0 to 20 A in steps of 0.2 A."""
    facts = {"quantity": "anode_current", "unit": "A", "decimals": 1, "label": code, **over}
    meter = Meter(pk=hash(code), code=code, **facts)
    instrument = INSTRUMENT._replace(scale_law=law)
    reading = read_typed(text, Scale(0, 20, "A"))
    return Cell(meter, reading, band, instrument, replace(ON_AIR, state=state))


@pytest.mark.need(8)
class TestCellLevel:
    @pytest.mark.parametrize(
        ("text", "level"),
        [
            ("12.4", "normal"),
            ("13.2", "warning-high"),
            ("14", "alarm-high"),
            ("11.6", "warning-low"),
            ("10.8", "alarm-low"),
            (">20", "alarm-high"),
            ("/", "not-running"),
            ("*", "meter-faulty"),
            ("-", "not-accessible"),
            ("+", "not-read"),
            ("12.4?", "doubtful"),
            ("12.5", "doubtful"),
            ("44", "to-re-read"),
            ("", ""),
        ],
    )
    def test_typed_text_gets_its_level(self, text: str, level: str) -> None:
        assert cell_level(cell(text)) == level

    @pytest.mark.case("C27")
    def test_without_limits_is_no_reference_and_not_normal(self) -> None:
        assert cell_level(cell("12.4", NO_BAND)) == "no-reference"

    @pytest.mark.need(57)
    @pytest.mark.parametrize(
        ("text", "law", "level"),
        [("4.0", "linear", "no-reference"), ("3.8", "linear", "bottom-of-scale")]
        + [("6.8", "square", "no-reference"), ("6.6", "square", "bottom-of-scale")]
        + [("3.8", "counter", "no-reference"), ("0", "linear", "no-reference")],
    )
    def test_bottom_of_the_scale_is_said(self, text: str, law: str, level: str) -> None:
        """A fifth of 0 to 20 A, a third under a square law: 47 CFR 73.1215 (from memory)."""
        assert cell_level(cell(text, NO_BAND, law=law)) == level

    @pytest.mark.need(15)
    def test_anode_meter_in_standby_has_no_low_alarm(self) -> None:
        assert cell_level(cell("0", ANODE, "standby")) == "normal"


class TestLooksAtCell:
    @pytest.mark.need(8)
    def test_beyond_an_alarm_limit_names_the_limit(self) -> None:
        [look] = looks_at_cell(cell("14.2"))
        assert look.level == "alarm-high"
        assert "14.0 A" in look.sentence

    @pytest.mark.need(11)
    def test_value_between_two_marks_is_asked_and_the_nearest_offered(self) -> None:
        """13.13 / 0.2 = 65.65: the nearest mark is 66 x 0.2 = 13.2."""
        [look] = looks_at_cell(cell("13.13"))
        assert look.offer == "13.2"

    @pytest.mark.need(10)
    @pytest.mark.case("C22")
    def test_above_scale_without_limits_is_still_marked(self) -> None:
        [look] = looks_at_cell(cell(">20", NO_BAND))
        assert look.level == "warning-high"

    @pytest.mark.need(9)
    def test_confirmed_value_is_not_asked_again(self) -> None:
        asked = cell("14.2")
        confirmed = replace(asked, reading=replace(asked.reading, mark="="))
        assert looks_at_cell(confirmed) == []


@pytest.mark.case("C6")
class TestLooksAtRound:
    def test_zeros_on_air_are_one_question_about_the_state(self) -> None:
        looks = looks_at_round([cell("0", code="v1"), cell("0", code="v2")])
        assert [look.meter for look in looks] == [None]
        assert "v1 0.0, v2 0.0" in looks[0].sentence

    def test_one_zero_among_good_readings_is_its_own_alarm(self) -> None:
        cells = [cell("0", code="v1"), cell("12.4", code="v2"), cell("12.4", code="v3")]
        assert [look.level for look in looks_at_round(cells)] == ["alarm-low"]

    def test_current_in_standby_is_a_question_about_the_state(self) -> None:
        [look] = looks_at_round([cell("12.4", NO_BAND, "standby")])
        assert look.meter is None
        assert "standby" in look.sentence

    def test_pointer_a_little_off_zero_in_standby_is_not_asked(self) -> None:
        """5 % of 20 A is 1 A."""
        assert looks_at_round([cell("1", NO_BAND, "standby")]) == []

    def test_unknown_state_asks_nothing_about_itself(self) -> None:
        cells = [cell("0", NO_BAND, "", code="v1"), cell("0", NO_BAND, "", code="v2")]
        assert looks_at_round(cells) == []
