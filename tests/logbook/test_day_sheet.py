"""The day sheet: its board, and the page that is printed."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from logbook import port
from logbook.day_sheet import build_day_sheet
from logbook.day_sheet_board import DaySheet, Line
from logbook.remarks import FlagRemark
from logbook.services.corrections import correct_values, void_entry
from logbook.services.remarks import record_remark
from logbook.sheets import split_meters
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_limit, make_meter, make_round, make_state, typed_for
from tests.people import signed_in

HOUR = timedelta(hours=1)
DAY = SLOT.date()
NOW = datetime(2026, 3, 3, 12, tzinfo=UTC)
ADDRESS = "/log/T1/day/2026-03-02"


@pytest.fixture(autouse=True)
def _no_flags(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port, "remarks", lambda *span: [])


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, meter: Meter) -> Transmitter:
    """On air from 05:00 to the day's end, with warnings at 11.6 and 13.2, alarms at 10.8 and 14."""
    make_limit(meter)
    make_state(shift, transmitter)
    return transmitter


def sheet(transmitter: Transmitter, day: date = DAY, now: datetime = NOW) -> DaySheet:
    return build_day_sheet(transmitter, day, now)


def lines(transmitter: Transmitter, **over: Any) -> list[Line]:
    return list(sheet(transmitter, **over).sheets[0].lines)


def line_at(transmitter: Transmitter, clock: str, **over: Any) -> Line:
    return next(line for line in lines(transmitter, **over) if line.clock == clock)


def page(person: Person, address: str = ADDRESS) -> str:
    return " ".join(signed_in(person).get(address).content.decode().split())


class TestRows:
    @pytest.mark.need(5)
    def test_hours_off_are_not_missed(self, plant: Transmitter) -> None:
        levels = [line.level for line in lines(plant)]
        assert levels == ["not-asked"] * 5 + ["missed"] * 19

    @pytest.mark.need(25)
    def test_hours_on_the_air_across_midnight_belong_to_both_days(
        self, transmitter: Transmitter, meter: Meter, shift: Person
    ) -> None:
        midnight = datetime(2026, 3, 3, tzinfo=UTC)
        make_state(shift, transmitter, observed_at=midnight - HOUR, state="on_air")
        make_state(shift, transmitter, observed_at=midnight + HOUR, state="off", reason="end")
        late = midnight + timedelta(days=2)
        asked = [
            [line.clock for line in lines(transmitter, day=day, now=late) if line.level == "missed"]
            for day in (DAY, midnight.date())
        ]
        assert asked == [["23:00"], ["00:00"]]

    @pytest.mark.need(7)
    def test_slot_without_a_round_is_missed_once_the_next_opens(self, plant: Transmitter) -> None:
        now = SLOT + 2 * HOUR + timedelta(minutes=20)
        levels = {line.clock: line.level for line in lines(plant, now=now)}
        assert [levels[clock] for clock in ("07:00", "08:00", "09:00")] == ["missed", "late", ""]

    @pytest.mark.need(2)
    @pytest.mark.case("C5")
    def test_round_read_past_the_stations_minutes_is_late(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        make_round(shift, plant, {meter.code: "12.4"}, observed_at=SLOT + timedelta(minutes=40))
        line = line_at(plant, "06:00")
        assert (line.level, line.observed) == ("late", "06:40")

    @pytest.mark.need(87)
    def test_round_shows_when_its_panel_groups_were_read(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        make_meter(plant, "steam", quantity="steam_rate", panel_group="Water", full_scale=250)
        make_round(
            shift,
            plant,
            {meter.code: "12.4", "steam": "105"},
            group_observed_at={"Water": SLOT + timedelta(minutes=19)},
        )
        assert line_at(plant, "06:00").observed == "06:04–06:19"

    @pytest.mark.need(87)
    def test_change_of_state_in_the_midst_splits_the_round(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        make_meter(plant, "steam", quantity="steam_rate", panel_group="Water", full_scale=250)
        make_state(shift, plant, state="tripped", observed_at=SLOT + timedelta(minutes=10))
        groups = {"Water": SLOT + timedelta(minutes=19)}
        values = {meter.code: "12.4", "steam": "0"}
        make_round(shift, plant, values, group_observed_at=groups)
        assert line_at(plant, "06:00").state == "on air, full power, tripped, locked out"

    @pytest.mark.need(28)
    @pytest.mark.case("C9")
    @pytest.mark.parametrize(
        ("log_day", "day", "rows"),
        [
            ("local", date(2026, 10, 25), 25),
            ("local", date(2026, 3, 29), 23),
            ("local", date(2026, 3, 2), 24),
            ("utc", date(2026, 10, 25), 24),
            ("utc", date(2026, 3, 29), 24),
        ],
    )
    def test_day_has_as_many_rows_as_hours(
        self, plant: Transmitter, log_day: str, day: date, rows: int
    ) -> None:
        plant.station.log_day = log_day
        assert len(lines(plant, day=day)) == rows

    @pytest.mark.need(28)
    @pytest.mark.case("C9")
    def test_repeated_local_hour_is_two_slots(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        plant.station.log_day = "local"
        for hour, value in ((0, "12.2"), (1, "12.4")):
            slot = datetime(2026, 10, 25, hour, tzinfo=UTC)
            make_round(shift, plant, {meter.code: value}, slot=slot)
        found = {line.clock: line.cells[0].shown for line in lines(plant, day=date(2026, 10, 25))
                 if line.cells}  # fmt: skip
        assert found == {"02:00 +0200": "12.2", "02:00 +0100": "12.4"}


class TestCells:
    def cell(self, plant: Transmitter, by: Person, text: str) -> Any:
        make_round(by, plant, {"v1_anode_current": text})
        return line_at(plant, "06:00").cells[0]

    @pytest.mark.need(8)
    @pytest.mark.parametrize(
        ("text", "level"),
        [
            ("12.4", ""),
            ("13.2", "warning-high"),
            ("14.0", "alarm-high"),
            ("11.6", "warning-low"),
            ("10.8", "alarm-low"),
        ],
    )
    def test_value_is_marked_by_the_limits(
        self, plant: Transmitter, shift: Person, text: str, level: str
    ) -> None:
        cell = self.cell(plant, shift, text)
        assert (cell.shown, cell.level) == (text, level)

    @pytest.mark.need(10)
    @pytest.mark.case("C22")
    def test_off_scale_keeps_its_bound_and_is_an_alarm(
        self, plant: Transmitter, shift: Person
    ) -> None:
        cell = self.cell(plant, shift, ">20")
        assert (cell.shown, cell.level) == (">20.0", "alarm-high")

    @pytest.mark.need(6)
    def test_code_stands_as_its_letter_and_is_no_zero(
        self, plant: Transmitter, shift: Person
    ) -> None:
        cell = self.cell(plant, shift, "/")
        assert (cell.shown, cell.code_level, cell.level) == ("R", "not-running", "")

    def test_text_to_be_re_read_stands_as_typed(self, plant: Transmitter, shift: Person) -> None:
        assert self.cell(plant, shift, "l2.4").shown == "l2.4 T"

    @pytest.mark.case("C26")
    def test_doubtful_value_has_its_sign(self, plant: Transmitter, shift: Person) -> None:
        cell = self.cell(plant, shift, "12.4?")
        assert (cell.shown, cell.mark) == ("12.4", "?")

    def test_limits_are_those_of_the_state_when_it_was_read(
        self, plant: Transmitter, shift: Person
    ) -> None:
        make_state(shift, plant, state="standby", observed_at=SLOT + timedelta(minutes=1))
        assert self.cell(plant, shift, "0").level == ""


class TestStruck:
    @pytest.mark.need(52)
    def test_corrected_value_stays_readable_with_its_correction(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        row = make_round(shift, plant, {meter.code: "1.24"})
        done = correct_values(
            row, {meter: typed_for(meter, "12.4")}, reason="decimal slip", by=shift, at=NOW
        )
        cell = line_at(plant, "06:00").cells[0]
        assert cell.shown == "12.4"
        assert [(one.shown, one.ended_by) for one in cell.struck] == [("1.24", done.entry.no)]
        assert "decimal slip" in page(shift)

    @pytest.mark.need(52)
    def test_struck_round_counts_nowhere_and_stays_readable(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        row = make_round(shift, plant, {meter.code: "12.4"})
        void_entry(row.entry, reason="wrong day", by=shift, at=NOW)
        first = sheet(plant).sheets[0]
        assert line_at(plant, "06:00").level == "missed"
        assert [(line.aside, line.cells[0].shown) for line in first.aside] == [("struck", "12.4")]

    @pytest.mark.case("C30")
    def test_duplicate_is_set_aside(
        self, plant: Transmitter, shift: Person, engineer: Person, meter: Meter
    ) -> None:
        make_round(shift, plant, {meter.code: "12.4"})
        make_round(engineer, plant, {meter.code: "12.2"})
        first = sheet(plant).sheets[0]
        assert line_at(plant, "06:00").cells[0].shown == "12.4"
        assert [(line.aside, line.cells[0].shown) for line in first.aside] == [
            ("duplicate", "12.2")
        ]

    @pytest.mark.need(52)
    def test_struck_change_of_state_stays_readable_with_its_correction(
        self, plant: Transmitter, shift: Person
    ) -> None:
        wrong = make_state(shift, plant, power_kw=80.0, observed_at=SLOT)
        done = void_entry(wrong.entry, reason="was not reduced", by=shift, at=NOW)
        struck = [one for one in sheet(plant).happenings if one.struck_by]
        assert [(one.words, one.struck_by) for one in struck] == [("80 kW", done.entry.no)]


class TestLastSheet:
    @pytest.mark.need(12)
    def test_remark_stands_with_its_time_and_name(self, plant: Transmitter, shift: Person) -> None:
        record_remark(
            "fan noisy",
            station=plant.station,
            transmitter=plant,
            observed_at=SLOT,
            by=shift,
            at=NOW,
        )
        shown = page(shift)
        assert "fan noisy" in shown
        assert "2026-03-02 06:00 UTC" in shown

    def test_remark_written_later_about_a_round_stands_on_its_sheet(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        row = make_round(shift, plant, {meter.code: "12.4"})
        record_remark(
            "meter sticks",
            station=plant.station,
            transmitter=plant,
            observed_at=SLOT + 48 * HOUR,
            by=shift,
            at=NOW,
            about=row.entry,
        )
        remarks = [one for one in sheet(plant).happenings if one.about == row.entry.no]
        assert [one.words for one in remarks] == ["meter sticks"]

    def test_flag_stands_with_its_words(
        self, plant: Transmitter, shift: Person, meter: Meter, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        flag = FlagRemark(meter, SLOT, None, "high", "V1 at the alarm")
        monkeypatch.setattr(port, "remarks", lambda *span: [flag])
        assert "V1 at the alarm" in page(shift)

    def test_sheet_says_when_judging_is_not_available(
        self, plant: Transmitter, shift: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(port, "remarks", lambda *span: None)
        assert "Judging is not available now" in page(shift)


class TestIdentity:
    @pytest.mark.need(13)
    def test_each_sheet_names_station_set_day_number_and_time_basis(
        self, plant: Transmitter, shift: Person
    ) -> None:
        shown = page(shift)
        for no in (1, 2):
            assert f"Sheet {no} of 2" in shown
        identity = "<strong>Moor</strong>, <strong>T1</strong> 200 kW, log day"
        assert shown.count(identity) == 2
        assert shown.count("days and hours in UTC") == 2

    @pytest.mark.need(13)
    def test_meters_are_parted_by_panel_group(self, plant: Transmitter) -> None:
        for number in range(20):
            group = "Water" if number < 14 else "Feeder"
            make_meter(plant, f"m{number}", panel_group=group)
        sizes = [len(one.meters) for one in sheet(plant).sheets]
        assert sizes == [1, 14, 6]

    def test_group_longer_than_a_sheet_is_cut(self, plant: Transmitter) -> None:
        meters = [make_meter(plant, f"m{number}", panel_group="Water") for number in range(5)]
        assert [len(part) for part in split_meters(meters, most=2)] == [2, 2, 1]

    def test_meter_of_a_test_stands_only_where_it_was_read(
        self, plant: Transmitter, shift: Person
    ) -> None:
        make_meter(plant, "tone", quantity="tone_current", occasion="test")
        assert len(sheet(plant).sheets[0].meters) == 1
        make_round(shift, plant, {"tone": "11.2"}, kind="extra")
        assert len(sheet(plant).sheets[0].meters) == 2


class TestQueries:
    def test_day_full_of_rounds_takes_as_many_queries_as_one(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        def count() -> int:
            with CaptureQueriesContext(
                connection,
            ) as captured:
                sheet(plant)
            return len(captured)

        make_round(shift, plant, {meter.code: "12.4"})
        few = count()
        for hour in range(1, 18):
            make_round(shift, plant, {meter.code: "12.4"}, slot=SLOT + hour * HOUR)
        assert count() == few


class TestPage:
    @pytest.mark.need(76)
    @pytest.mark.parametrize(
        ("who", "status"),
        [("shift", 200), ("engineer", 200), ("planner", 200), ("viewer", 200), ("outsider", 403)]
        + [("retired", 403), ("stranger", 404)],
    )
    def test_page_is_for_those_who_read(
        self, request: Any, plant: Transmitter, who: str, status: int
    ) -> None:
        assert signed_in(request.getfixturevalue(who)).get(ADDRESS).status_code == status

    @pytest.mark.parametrize("day", ["9999-99-99", "9999-12-31", "0001-01-01", "x", "1" * 5000])
    def test_no_day_is_not_found(self, plant: Transmitter, viewer: Person, day: str) -> None:
        assert signed_in(viewer).get(f"/log/T1/day/{day}").status_code == 404

    def test_day_of_an_empty_register_and_log_is_shown(
        self, transmitter: Transmitter, viewer: Person
    ) -> None:
        assert "None were written" in page(viewer)

    def test_viewer_is_not_asked_why_a_round_was_missed(
        self, plant: Transmitter, viewer: Person, shift: Person
    ) -> None:
        assert "Say why" in page(shift)
        assert "Say why" not in page(viewer)


class TestChooseDay:
    def test_wanted_day_is_gone_to(self, plant: Transmitter, viewer: Person) -> None:
        response = signed_in(viewer).get("/log/T1/day", {"day": " 2026-03-02 "})
        assert response.headers["Location"] == ADDRESS

    def test_without_a_day_the_present_one_is_gone_to(
        self, plant: Transmitter, viewer: Person, client: Client
    ) -> None:
        assert signed_in(viewer).get("/log/T1/day").status_code == 302

    def test_what_is_no_day_is_asked_again_as_it_was_typed(
        self, plant: Transmitter, viewer: Person
    ) -> None:
        response = signed_in(viewer).get("/log/T1/day", {"day": "2 March"})
        assert response.status_code == 400
        assert "2 March" in response.content.decode()
