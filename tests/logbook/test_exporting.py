"""Tables as files: what counts, what was struck, no formula, and the way back into a log."""

import csv
from collections.abc import Callable
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from logbook import triggers
from logbook.cell_text import cell_text, guarded, reading_of, unguarded
from logbook.models import Correction, Entry, Reading, Remark, Round, StateChange, TubeMove
from logbook.reading_text import Scale, read_typed
from logbook.services.corrections import correct_values
from logbook.services.remarks import record_remark
from station.models import Person, Transmitter
from tests.make import SLOT, make_meter, make_round, make_state, typed_for
from tests.people import signed_in

HOUR = timedelta(hours=1)
SCALE = Scale(0, 20, "A")
DAY = {"since": "2026-03-02", "until": "2026-03-02"}


def downloaded(person: Person, table: str, **over: str) -> str:
    response = signed_in(person).get("/log/export", {"table": table, **DAY, **over})
    assert response.status_code == 200, response.content
    return b"".join(response.streaming_content).decode()


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(text.removeprefix("\ufeff"))))


class TestCellText:
    @pytest.mark.parametrize(
        "typed",
        ["12.4", "12,4", "0.1", ">20", "<0", "20+", "0.2-", "12.4?", "~12.4", "12.4 A", "/", "*"]
        + ["-", "+", "44", "x12", "1e3", "-0.5", "=1+1", "12.40", "0.30000000000000004"],
    )
    def test_what_was_typed_reads_back_as_the_same_reading(self, typed: str) -> None:
        cell = read_typed(typed, SCALE)
        again = reading_of(unguarded(guarded(cell_text(cell))), SCALE)
        assert again.columns() == cell.columns()

    def test_confirmed_value_stays_confirmed(self) -> None:
        assert cell_text(reading_of("12.4=", SCALE)) == "12.4="
        assert reading_of("12.4=", SCALE).mark == "="


class TestGuarded:
    @pytest.mark.parametrize("text", ["=1+1", "+cmd", "-x", "@a", "\tx", "'=1", "=", "-1+2"])
    def test_formula_is_stopped_and_comes_back(self, text: str) -> None:
        assert guarded(text)[0] == "'"
        assert unguarded(guarded(text)) == text

    @pytest.mark.parametrize("text", ["-0.5", "12.4", "", "on air", ">20"])
    def test_plain_text_and_numbers_stay(self, text: str) -> None:
        assert guarded(text) == text


class TestTables:
    def test_rounds_have_units_in_the_heading_and_the_operating_point(
        self, viewer: Person, engineer: Person, transmitter: Transmitter, meter
    ) -> None:
        make_state(engineer, transmitter)
        make_round(engineer, transmitter, {meter.code: "12.4"})
        [row] = rows(downloaded(viewer, "rounds"))
        assert row[f"{meter.code} [A]"] == "12.4"
        assert (row["state"], row["frequency_khz [kHz]"], row["power_kw [kW]"]) == (
            "on_air",
            "6105",
            "200",
        )
        assert row["slot [UTC]"] == f"{SLOT:%Y-%m-%dT%H:%M:%SZ}"

    def test_corrections_are_kept_with_their_numbers(
        self, viewer: Person, engineer: Person, transmitter: Transmitter, meter
    ) -> None:
        row = make_round(engineer, transmitter, {meter.code: "12.4"})
        again = {meter: typed_for(meter, "12.6")}
        correct_values(row, again, reason="misread", by=engineer, at=SLOT + HOUR)
        struck, stands = rows(downloaded(viewer, "history"))
        assert (struck["value"], struck["struck_by"]) == ("12.4", "2")
        assert (stands["value"], stands["brought_by"], stands["struck_by"]) == ("12.6", "2", "")
        assert [one["value"] for one in rows(downloaded(viewer, "readings"))] == ["12.6"]

    def test_remark_is_never_a_formula(self, viewer: Person, engineer: Person) -> None:
        text = '=HYPERLINK("x")'
        facts = {"station": engineer.station, "transmitter": None, "observed_at": SLOT}
        record_remark(text, **facts, by=engineer, at=SLOT)
        [row] = rows(downloaded(viewer, "entries"))
        assert row["words"] == "'" + text

    @pytest.mark.parametrize("table", ["states", "tubes", "instruments", "entries", "history"])
    def test_every_table_can_be_had(self, viewer: Person, furnished, table: str) -> None:
        assert downloaded(viewer, table).startswith("\ufeff")

    @pytest.mark.parametrize(
        ("over", "sentence"),
        [
            ({"since": "1.3.2026"}, "Write the day as year-month-day"),
            ({"since": "2026-03-03"}, "This day is before the first one"),
            ({"transmitter": "X9"}, "Choose one of this station, or all"),
            ({"table": "people"}, "Select a valid choice"),
        ],
    )
    def test_bad_wish_is_a_sentence(self, viewer: Person, furnished, over, sentence) -> None:
        response = signed_in(viewer).get("/log/export", {"table": "rounds", **DAY, **over})
        assert response.status_code == 400
        assert sentence in response.content.decode()


@pytest.fixture
def day(engineer: Person, transmitter: Transmitter, meter) -> Transmitter:
    """Rounds of every sort of cell, a change of wave, a round with a code and a doubtful one."""
    make_meter(transmitter, "level", quantity="water_level", unit="mm", decimals=0, full_scale=200)
    make_state(engineer, transmitter)
    cells = ["12.4", "12,5?", ">20", "/", "44", "=1+1", "-", ""]
    for hour, text in enumerate(cells):
        slot = SLOT + hour * HOUR
        read = {meter.code: text} if text else {}
        make_round(engineer, transmitter, {**read, "level": "120"}, slot=slot)
    make_state(engineer, transmitter, observed_at=SLOT + 3.5 * HOUR, state="standby")
    again = {meter: typed_for(meter, "12.6")}
    row = Round.objects.order_by("slot")[0]
    correct_values(row, again, reason="misread", by=engineer, at=SLOT + 9 * HOUR)
    return transmitter


@pytest.fixture
def empty_log() -> Callable[[], None]:
    def empty() -> None:
        """The register stays, the log goes."""
        with triggers.lifted(connection):
            for model in (Reading, Correction, StateChange, Remark, TubeMove, Round):
                model.objects.all().delete()
            Entry.objects.update(ended_by=None, in_place_of=None)
            Entry.objects.all().delete()

    return empty


class TestRoundTrip:
    @pytest.mark.parametrize("table", ["rounds", "readings"])
    def test_export_read_into_an_empty_log_gives_the_same_export(
        self, day: Transmitter, viewer: Person, empty_log, tmp_path: Path, table: str
    ) -> None:
        before = {name: downloaded(viewer, name) for name in ("rounds", "readings")}
        path = tmp_path / "export.csv"
        path.write_text(before[table], encoding="utf-8", newline="")
        empty_log()
        call_command("import_log", str(path), stdout=StringIO())
        assert {name: downloaded(viewer, name) for name in before} == before
        call_command("verify_log", stdout=StringIO())

    def test_second_import_writes_nothing(
        self, day: Transmitter, viewer: Person, empty_log, tmp_path: Path
    ) -> None:
        path = tmp_path / "export.csv"
        path.write_text(downloaded(viewer, "rounds"), encoding="utf-8", newline="")
        empty_log()
        call_command("import_log", str(path), stdout=StringIO())
        written = Entry.objects.count()
        out = StringIO()
        call_command("import_log", str(path), stdout=out)
        assert Entry.objects.count() == written
        assert "In the log already: 8 rounds" in out.getvalue()


def test_command_needs_a_file() -> None:
    with pytest.raises(CommandError, match="there is no file"):
        call_command("import_log", "nowhere.csv")
