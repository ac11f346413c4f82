"""What a person types in a cell. Expected values are what the person means."""

import pytest

from logbook.reading_text import Scale, TypedReading, read_typed

AMPS = Scale(0, 40, "A")
CONDUCTIVITY = Scale(0, 10, "uS/cm")


class TestNumbers:
    @pytest.mark.case("C26")
    @pytest.mark.parametrize(
        ("typed", "value"),
        [("11.0", 11.0), ("11,0", 11.0), (" 28 ", 28.0), (".5", 0.5), (",5", 0.5), ("28 A", 28.0)]
        + [("28A", 28.0), ("28 a", 28.0)],
    )
    def test_comma_point_and_own_unit_are_understood(self, typed: str, value: float) -> None:
        assert read_typed(typed, AMPS).value == value
        assert read_typed(typed, AMPS).problem == ""

    @pytest.mark.case("C26")
    @pytest.mark.parametrize("dash", ["-", "\N{MINUS SIGN}", "\N{EN DASH}"])
    def test_any_dash_is_a_minus(self, dash: str) -> None:
        assert read_typed(f"{dash}5,5", Scale(-40, 60, "C")).value == -5.5

    def test_unit_with_a_stroke_is_understood(self) -> None:
        assert read_typed("0.6 uS/cm", CONDUCTIVITY).value == 0.6

    @pytest.mark.case("C26")
    @pytest.mark.parametrize("typed", ["28?", "~28", "28*"])
    def test_doubt_is_a_mark_on_the_number(self, typed: str) -> None:
        reading = read_typed(typed, AMPS)
        assert (reading.value, reading.mark, reading.text) == (28.0, "?", typed)

    def test_plain_number_keeps_no_text(self) -> None:
        assert read_typed("28.0", AMPS).text == ""


class TestToBeReRead:
    @pytest.mark.case("C26")
    @pytest.mark.parametrize(
        "typed",
        ["1.234,5", "1,2,3", "٢٨", "２８", "abc", "nan", "inf", "1e3", "0x1F", "\x00", "28 kV"]
        + ["--5", "+-", "28 ?? A", "<", "5/6", "9" * 400 + "x"],
    )
    def test_what_is_no_number_is_kept_with_a_sentence(self, typed: str) -> None:
        reading = read_typed(typed, AMPS)
        assert (reading.value, reading.code) == (None, "T")
        assert reading.text == typed.strip()[:40]
        assert "re-read" in reading.problem

    @pytest.mark.need(10)
    @pytest.mark.case("C22")
    def test_above_full_scale_is_not_taken_as_a_number(self) -> None:
        reading = read_typed("41", AMPS)
        assert (reading.value, reading.code, reading.text) == (None, "T", "41")
        assert "0 to 40 A" in reading.problem

    def test_full_scale_itself_is_a_number(self) -> None:
        assert read_typed("40", AMPS).value == 40.0

    def test_below_the_scale_is_not_taken_as_a_number(self) -> None:
        assert read_typed("-1", AMPS).code == "T"


class TestOffScale:
    @pytest.mark.need(10)
    @pytest.mark.case("C22")
    @pytest.mark.parametrize(
        ("typed", "value", "bound"),
        [(">40", 40.0, ">"), ("> 40 A", 40.0, ">"), ("40+", 40.0, ">"), ("<0.2", 0.2, "<")]
        + [("0,2-", 0.2, "<")],
    )
    def test_bound_is_kept_and_no_number_invented(
        self, typed: str, value: float, bound: str
    ) -> None:
        reading = read_typed(typed, AMPS)
        assert (reading.value, reading.bound, reading.text) == (value, bound, typed)


class TestCodes:
    @pytest.mark.need(6)
    @pytest.mark.case("C8")
    @pytest.mark.parametrize(("key", "code"), [("/", "R"), ("*", "F"), ("-", "A"), ("+", "N")])
    def test_one_key_says_why_there_is_no_number(self, key: str, code: str) -> None:
        assert read_typed(key, AMPS) == TypedReading(code=code)

    @pytest.mark.need(6)
    def test_blank_is_no_reading_and_never_zero(self) -> None:
        assert read_typed("  ", AMPS).is_blank
        assert not read_typed("0", AMPS).is_blank
