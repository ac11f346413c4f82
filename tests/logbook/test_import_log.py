"""Past readings out of files as spreadsheets write them: taken once, refused line by line."""

import json
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from logbook.importing.faults import Refused
from logbook.importing.instants import instant_of_text
from logbook.models import Entry, Reading, Round, StateChange
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_meter, make_round, make_state, make_transmitter

HEADING = "observed_at,transmitter,state,frequency_khz,antenna,power_kw,modulation,observer"
LINE = "2026-03-01T06:04Z,T1,on_air,6105,A1,200,on,shift"

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _register(shift: Person, transmitter: Transmitter, meter: Meter) -> None:
    """T1 with one anode current meter of 0 to 20 A."""


def imported(tmp_path: Path, text: str | bytes, *options: str) -> tuple[str, list[str]]:
    """What the command says of a file, and its refusals."""
    path = tmp_path / "past.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    out, refusals = StringIO(), []
    try:
        call_command("import_log", str(path), *options, stdout=out)
    except CommandError as refusal:
        refusals = str(refusal).splitlines()
    return out.getvalue(), refusals


def wide(*lines: str, meter: str = "v1_anode_current") -> str:
    return "\n".join([f"{HEADING},{meter}", *lines, ""])


def values() -> list[float | None]:
    return list(Reading.objects.order_by("minute").values_list("value", flat=True))


class TestTaken:
    def test_round_has_its_reading_its_person_and_its_source(self, tmp_path: Path) -> None:
        told, refusals = imported(tmp_path, wide(LINE + ",12.4"))
        assert refusals == []
        assert "1 rounds, 1 readings" in told
        row = Round.objects.select_related("entry").get()
        assert (row.entry.by.username, row.entry.source) == ("shift", "import")
        assert row.entry.observed_at == datetime(2026, 3, 1, 6, 4, tzinfo=UTC)
        assert row.slot == datetime(2026, 3, 1, 6, tzinfo=UTC)
        assert values() == [12.4]

    def test_point_that_differs_writes_a_change_of_state(self, tmp_path: Path) -> None:
        later = LINE.replace("06:04", "07:04").replace("6105", "9690")
        imported(tmp_path, wide(LINE + ",12.4", later + ",12.6"))
        first, second = StateChange.objects.order_by("entry__no")
        assert (first.state, first.frequency_khz, str(first.antenna.code)) == ("on_air", 6105, "A1")
        assert (second.state, second.frequency_khz, second.antenna) == ("", 9690, None)
        assert second.entry.source == "import"

    def test_long_file_gathers_the_lines_of_a_round(
        self, tmp_path: Path, transmitter: Transmitter
    ) -> None:
        make_meter(transmitter, "v2_anode_current")
        text = f"{HEADING},meter,value\n{LINE},v1_anode_current,12.4\n{LINE},v2_anode_current,/\n"
        told, refusals = imported(tmp_path, text)
        assert refusals == []
        assert "1 rounds, 2 readings" in told

    def test_decimal_comma_semicolon_mark_and_blank_lines(self, tmp_path: Path) -> None:
        text = wide(LINE + ",12.4").replace(",", ";").replace("12.4", "12,4")
        imported(tmp_path, b"\xef\xbb\xbf\r\n" + text.replace("\n", "\r\n\r\n;;;\r\n").encode())
        assert values() == [12.4]

    def test_end_of_day_is_the_next_midnight(self, tmp_path: Path) -> None:
        imported(tmp_path, wide(LINE.replace("06:04", "24:00") + ",12.4"))
        assert Round.objects.get().slot == datetime(2026, 3, 2, tzinfo=UTC)

    def test_what_is_no_number_is_kept_to_be_re_read(self, tmp_path: Path) -> None:
        told, refusals = imported(tmp_path, wide(LINE + ",44"))
        assert refusals == []
        assert "(1 of them to be re-read)" in told
        assert Reading.objects.get().text == "44"

    def test_column_says_its_unit(self, tmp_path: Path) -> None:
        imported(tmp_path, wide(LINE + ",12.4", meter="v1_anode_current [A]"))
        assert values() == [12.4]

    def test_heading_may_say_utc(self, tmp_path: Path) -> None:
        text = wide(LINE.replace("Z", "") + ",12.4").replace("observed_at", "observed_at [UTC]", 1)
        _told, refusals = imported(tmp_path, text)
        assert refusals == []


class TestOnce:
    def test_second_run_writes_nothing(self, tmp_path: Path) -> None:
        text = wide(LINE + ",12.4")
        imported(tmp_path, text)
        count = Entry.objects.count()
        told, refusals = imported(tmp_path, text)
        assert (Entry.objects.count(), refusals) == (count, [])
        assert "In the log already: 1 rounds" in told

    def test_line_twice_counts_once(self, tmp_path: Path) -> None:
        told, refusals = imported(tmp_path, wide(LINE + ",12.4", LINE + ",12.4"))
        assert refusals == []
        assert "twice in the file: 1." in told
        assert values() == [12.4]

    def test_slot_said_otherwise_is_refused(self, tmp_path: Path) -> None:
        _told, refusals = imported(tmp_path, wide(LINE + ",12.4", LINE + ",12.6"))
        assert "was said otherwise by a line before it" in refusals[0]
        assert values() == [12.4]

    @pytest.mark.case("C30")
    def test_slot_that_a_person_holds_is_refused_with_its_entry(
        self, tmp_path: Path, shift: Person, transmitter: Transmitter
    ) -> None:
        row = make_round(shift, transmitter, {"v1_anode_current": "12.8"})
        line = LINE.replace("2026-03-01T06:04Z", f"{SLOT + timedelta(minutes=4):%Y-%m-%dT%H:%MZ}")
        _told, refusals = imported(tmp_path, wide(line + ",12.4"))
        assert f"is held by entry {row.entry.no} of the log" in refusals[0]
        assert values() == [12.8]

    def test_dry_run_says_the_same_and_writes_nothing(self, tmp_path: Path) -> None:
        told, _refusals = imported(tmp_path, wide(LINE + ",12.4"), "--dry-run")
        assert "it would take: 1 rounds, 1 readings" in told
        assert not Entry.objects.exists()


class TestRefusedLines:
    @pytest.mark.parametrize(
        ("was", "now", "sentence"),
        [
            ("2026-03-01T06:04Z", "2026-03-01 06:04", "has no zone"),
            ("2026-03-01T06:04Z", "01.03.2026 06:04", "is no instant that can mean one time only"),
            ("2026-03-01T06:04Z", "03/01/2026 06:04Z", "is no instant that can mean one time"),
            ("2026-03-01T06:04Z", "2026-02-30T06:04Z", "is no day and time of the calendar"),
            ("2026-03-01T06:04Z", "2999-01-01T06:04Z", "has not come yet"),
            ("2026-03-01T06:04Z", "", "is no instant"),
            ("T1", "T9", "line 2, transmitter 'T9'"),
            ("on_air", "running", "is none of"),
            ("6105", '"6,1,05"', "line 2, frequency_khz '6"),
            ("A1", "A9", "line 2, antenna 'A9'"),
            ("200", "-200", "is no number above zero"),
            (",on,", ",loud,", "is none of on, paused, carrier"),
            ("shift", "nobody", "line 2, observer 'nobody'"),
            ("shift", "", "line 2, observer: is blank"),
            (",on,", ",on,on,", "has 10 cells, and the heading has 9"),
        ],
    )
    def test_fault_names_line_column_text_and_reason(
        self, tmp_path: Path, was: str, now: str, sentence: str
    ) -> None:
        line = f"{LINE},12.4".replace(was, now)
        later = LINE.replace("06:04", "08:04") + ",12.6"
        _told, refusals = imported(tmp_path, wide(line, later))
        assert sentence in refusals[0]
        assert values() == [12.6]

    def test_state_that_a_person_wrote_otherwise_is_refused(
        self, tmp_path: Path, shift: Person, transmitter: Transmitter
    ) -> None:
        at = datetime(2026, 3, 1, 5, tzinfo=UTC)
        state = make_state(shift, transmitter, observed_at=at, state="standby")
        _told, refusals = imported(tmp_path, wide(LINE + ",12.4"))
        assert (
            f"entry {state.entry.no} of the log, which a person wrote, says standby"
            in (refusals[0])
        )
        assert not Round.objects.exists()

    def test_lines_out_of_order_are_refused(self, tmp_path: Path) -> None:
        early = LINE.replace("06:04", "05:04")
        _told, refusals = imported(tmp_path, wide(LINE + ",12.4", early + ",12.6"))
        assert "sort the file by time" in refusals[0]

    def test_meter_of_another_transmitter(self, tmp_path: Path, transmitter: Transmitter) -> None:
        other = make_transmitter(station=transmitter.station, code="T3")
        make_meter(other, "air_rise", quantity="temperature_rise", unit="K")
        _told, refusals = imported(tmp_path, wide(LINE + ",19", meter="air_rise"))
        assert "line 2, air_rise 'air_rise': is no meter of T1" in refusals[0]

    def test_ten_thousand_refused_lines_do_not_drown(self, tmp_path: Path) -> None:
        bad = [LINE.replace("T1", "T9") + ",12.4"] * 10_000
        report = tmp_path / "report.json"
        _told, refusals = imported(tmp_path, wide(*bad), "--report", str(report))
        assert len(refusals) == 22
        assert refusals[20] == "9980 more lines, transmitter: is none of T1"
        assert len(json.loads(report.read_text())["faults"]) == 10_000


class TestRefusedFiles:
    @pytest.mark.parametrize(
        ("text", "sentence"),
        [
            ("", "Its first line must name the columns"),
            ("a,b\n1,2\n", "Its first line must name the columns"),
            (HEADING.replace(",observer", "") + "\n", "Columns are missing: observer"),
            (HEADING + ",state\n", "A column stands there twice: state"),
            (HEADING + ",\n", "A column has no name"),
            (HEADING + ",v1_anode_curent\n", "Is 'v1_anode_current' meant?"),
            (HEADING + ",v1_anode_current [mA]\n", "the meter is read in A: nothing is converted"),
            (HEADING + ",meter\n", "Columns are missing: value"),
            (b"observed_at,transmitter,\xe9\n", "It is not UTF-8 text (byte 24)"),
            (HEADING + '\n"2026', "It is no CSV file"),
        ],
    )
    def test_sentence_says_what_to_do(self, tmp_path: Path, text: Any, sentence: str) -> None:
        _told, refusals = imported(tmp_path, text)
        assert sentence in " ".join(refusals)
        assert "Nothing was taken" in refusals[-1]
        assert not Entry.objects.exists()


class TestInstants:
    @pytest.mark.parametrize(
        ("text", "utc"),
        [
            ("2026-03-01T14:05:30Z", "2026-03-01T14:05:30+00:00"),
            ("2026-03-01 14:05 UTC", "2026-03-01T14:05:00+00:00"),
            ("2026-03-01T14:05+01:00", "2026-03-01T13:05:00+00:00"),
            ("2026-03-01T00:05-0330", "2026-03-01T03:35:00+00:00"),
            ("2026-12-31T24:00Z", "2027-01-01T00:00:00+00:00"),
        ],
    )
    def test_zone_is_taken_as_written(self, text: str, utc: str) -> None:
        assert instant_of_text(text, "observed_at", is_utc=False).isoformat() == utc

    @pytest.mark.parametrize("text", ["2026-03-01T24:01Z", "2026-13-01T00:00Z", "12:00"])
    def test_what_is_no_instant_is_refused(self, text: str) -> None:
        with pytest.raises(Refused):
            instant_of_text(text, "observed_at", is_utc=False)
