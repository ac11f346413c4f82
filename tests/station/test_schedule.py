"""The schedule's pages and its file: what is refused and why, what is taken and when."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from station.models import Authorisation, Person, ScheduleLine, ScheduleVersion, Transmitter
from station.schedule_board import build_schedule, expiry_level
from station.schedule_file import read_schedule
from station.schedules import broadcasts_of, next_starts
from tests.people import signed_in

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
HEADING = "transmitter;frequency_khz;start;stop;days;antenna;valid_from"
GOOD = "T1;6105;0600;0800;1234567;A1;"

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter) -> Transmitter:
    return transmitter


def faults(plant: Transmitter, *lines: str, six: str = "") -> list[str]:
    read = read_schedule("\n".join([HEADING, *lines]), plant.station, six)
    return [str(fault) for fault in read.faults]


@pytest.mark.case("C25")
@pytest.mark.need(25)
class TestFile:
    def test_good_line_is_read_as_written(self, plant: Transmitter) -> None:
        read = read_schedule(f"{HEADING}\n{GOOD}", plant.station)
        (row,) = read.lines
        assert (row.frequency_khz, row.start_min, row.stop_min) == (6105.0, 360, 480)
        assert (row.antenna.code, row.days, read.faults) == ("A1", "1234567", [])

    @pytest.mark.parametrize(
        ("line", "words"),
        [
            ("T9;6105;0600;0800;1;A1;", "line 2, transmitter: 'T9' is not a known transmitter"),
            ("T1;6.105;0600;0800;1;A1;", "write the frequency in kHz"),
            ("T1;6105;0600;2430;1;A1;", "There is no time 2430"),
            ("T1;6105;2400;0100;1;A1;", "0000 of the day after"),
            ("T1;6105;0600;0600;1;A1;", "for the whole day write 0000 and 2400"),
            ("T1;6105;6;0800;1;A1;", "write it as 0600"),
            ("T1;6105;0600;0800;18;A1;", "1 is Sunday"),
            ("T1;6105;0600;0800;11;A1;", "each once"),
            ("T1;6105;0600;0800;;A1;", "1 is Sunday"),
            ("T1;6105;0600;0800;1;Z9;", "'Z9' is not a known antenna"),
            ("T1;6105;0600;0800;1;A1;290326", "day-month-year or year-month-day"),
            ("T1;6105;0600;0800;1;A1;29/03/2026", "write it as 2026-03-29"),
            ("T1;6105;0600;0800;1;A1", "It has 6 columns, the heading 7"),
        ],
    )
    def test_refused_line_says_why(self, plant: Transmitter, line: str, words: str) -> None:
        (fault,) = faults(plant, line)
        assert words in fault

    @pytest.mark.parametrize(
        ("six", "day"), [("dmy", date(2026, 3, 29)), ("ymd", date(2029, 3, 26))]
    )
    def test_six_digits_are_read_as_was_said(self, plant: Transmitter, six: str, day: date) -> None:
        text = f"{HEADING}\nT1;6105;0600;0800;1;A1;290326"
        assert read_schedule(text, plant.station, six).lines[0].valid_from == day

    def test_later_of_two_that_overlap_is_refused(self, plant: Transmitter) -> None:
        (fault,) = faults(plant, GOOD, "T1;9690;0730;0900;1;A1;")
        assert fault == "line 3, start: It overlaps line 2 on the same transmitter."

    @pytest.mark.parametrize(
        ("heading", "words"),
        [
            ("transmitter;frequency_khz;start;stop", "days: This column is missing"),
            ("transmitter;khz;start;stop;days", "'khz' is not a known column"),
            ("transmitter;transmitter;frequency_khz;start;stop;days", "stands twice"),
            ("", "empty"),
        ],
    )
    def test_heading_is_checked_first(self, plant: Transmitter, heading: str, words: str) -> None:
        read = read_schedule(f"{heading}\n{GOOD}" if heading else "", plant.station)
        assert words in " ".join(map(str, read.faults))
        assert read.lines == []

    def test_comma_and_byte_order_mark(self, plant: Transmitter) -> None:
        text = f"\ufeff{HEADING}\n{GOOD}".replace(";", ",")
        assert len(read_schedule(text, plant.station).lines) == 1


class TestPage:
    address = "/schedule/new"

    def send(self, engineer: Person, *lines: str, **over: str) -> object:
        page = {
            "text": "\n".join([HEADING, *lines]),
            "effective_from": "2026-03-29 01:00",
            "action": "take",
            **over,
        }
        return signed_in(engineer).post(self.address, page, follow=True)

    @pytest.mark.need(26)
    def test_version_is_taken_with_its_instant_and_who(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        page = self.send(engineer, GOOD).content.decode()
        version = ScheduleVersion.objects.get()
        assert f"{version.effective_from:%d %b %H:%M}" == "29 Mar 01:00"
        assert (version.taken_by, version.taken_at, version.lines.count()) == (engineer, NOW, 1)
        assert "1 line is in force from 2026-03-29 01:00 UTC" in page

    def test_file_is_shown_before_it_is_taken(self, plant: Transmitter, engineer: Person) -> None:
        file = SimpleUploadedFile("a26.csv", f"{HEADING}\n{GOOD}".encode())
        page = {"file": file, "effective_from": "2026-03-29 01:00", "action": "check"}
        answer = signed_in(engineer).post(self.address, page).content.decode()
        assert "1 line is good" in answer
        assert GOOD in answer
        assert not ScheduleVersion.objects.exists()

    def test_bad_lines_stop_it_until_they_are_given_up(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        bad = "T1;9690;0900;0900;1;A1;"
        page = self.send(engineer, GOOD, bad).content.decode()
        assert "1 line is good, 1 fault" in page
        assert not ScheduleVersion.objects.exists()
        self.send(engineer, GOOD, bad, good_only="on")
        assert ScheduleLine.objects.get().frequency_khz == 6105.0

    def test_version_in_the_past_is_asked_about(self, plant: Transmitter, engineer: Person) -> None:
        self.send(engineer, GOOD, effective_from="2026-01-01 00:00")  # the first one is a fact
        page = self.send(engineer, GOOD, effective_from="2026-02-01 00:00").content.decode()
        assert "would be counted anew" in page
        assert ScheduleVersion.objects.count() == 1
        self.send(engineer, GOOD, effective_from="2026-02-01 00:00", in_past="on")
        assert ScheduleVersion.objects.count() == 2

    def test_same_instant_twice_is_refused(self, plant: Transmitter, engineer: Person) -> None:
        self.send(engineer, GOOD)
        assert "is there already" in self.send(engineer, GOOD).content.decode()

    def test_page_shows_what_is_in_force_and_what_comes(
        self, plant: Transmitter, engineer: Person, viewer: Person
    ) -> None:
        self.send(engineer, GOOD, effective_from="2026-01-01 00:00")
        self.send(engineer, GOOD.replace("6105", "9690"), note="A26 draft")
        page = signed_in(viewer).get("/schedule").content.decode()
        assert "6105" in page
        assert "A26 draft" in page


@pytest.mark.need(27)
def test_lead_dates_of_the_season_to_come(plant: Transmitter) -> None:
    """A26 begins on 29 March 2026, B26 on 25 October: two and six months before."""
    board = build_schedule(plant.station, NOW)
    assert (board.next_season.name, board.next_season.confirm_by) == ("A26", date(2026, 1, 29))
    later = build_schedule(plant.station, NOW + timedelta(days=60))
    assert (later.next_season.name, later.next_season.request_by) == ("B26", date(2026, 4, 25))


def test_next_start_of_each_transmitter(plant: Transmitter, engineer: Person) -> None:
    TestPage().send(engineer, GOOD, effective_from="2026-01-01 00:00")
    starts = next_starts([plant], plant.station, NOW, NOW + timedelta(days=2))
    assert [f"{one.begin:%d %H:%M}" for one in starts[plant.pk]] == ["03 06:00", "04 06:00"]


def test_what_is_on_now_is_scheduled(plant: Transmitter, engineer: Person) -> None:
    TestPage().send(engineer, "T1;6105;1100;1300;1234567;A1;", effective_from="2026-01-01 00:00")
    (one,) = broadcasts_of(plant.station, NOW, NOW + timedelta(hours=8))
    assert (one.begin, one.end) == (NOW, NOW + timedelta(hours=1))


@pytest.mark.need(81)
class TestAuthorisations:
    def authorisation(self, plant: Transmitter, **over: object) -> Authorisation:
        facts = {"low_khz": 5900, "high_khz": 6200, "most_power_kw": 200, "reference": "R-1"}
        span = {"valid_from": date(2026, 1, 1), "valid_until": date(2026, 6, 30)}
        return Authorisation(station=plant.station, transmitter=plant, **facts, **span, **over)

    @pytest.mark.parametrize(
        ("khz", "kw", "day", "is_covered"),
        [
            (6105, 200, date(2026, 6, 30), True),
            (6105, 201, date(2026, 3, 2), False),
            (6205, 200, date(2026, 3, 2), False),
            (6105, 200, date(2026, 7, 1), False),
            (6105, None, date(2026, 3, 2), True),
        ],
    )
    def test_wave_power_and_day_must_fit(
        self, plant: Transmitter, khz: float, kw: float | None, day: date, is_covered: bool
    ) -> None:
        assert self.authorisation(plant).covers(khz, kw, None, day) == is_covered

    @pytest.mark.parametrize(
        ("day", "level"),
        [
            (date(2026, 3, 31), ""),
            (date(2026, 4, 1), "expiring"),  # ninety days before its end
            (date(2026, 6, 30), "expiring"),
            (date(2026, 7, 1), "expired"),
        ],
    )
    def test_expiry_is_warned_of(self, plant: Transmitter, day: date, level: str) -> None:
        assert expiry_level(self.authorisation(plant), day) == level
