"""Tests, measurements, looks round and adjustments: asked well, kept whole, found again."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from logbook.check_board import check_board, open_lights
from logbook.models import CheckMade, Entry, Round
from logbook.services.checks import AlreadyRepaired, record_check, record_repair
from logbook.services.corrections import void_entry
from logbook.words import entry_words
from station.models import Meter, Person, Station, Transmitter, Tube, TubeType
from station.states import HT_UP, ON_AIR_STATES, State
from tests.make import SLOT, make_limit, make_meter, make_round, make_sockets, make_state, make_tube
from tests.people import signed_in

NOW = SLOT + timedelta(hours=3)
WHEN = {"day": "2026-03-02", "clock": "08:50"}
DAY = timedelta(days=1)

pytestmark = pytest.mark.usefixtures("clock")


def send(by: Person, address: str, **typed: str) -> str:
    answer = signed_in(by).post(f"/log/{address}", {**WHEN, **typed}, follow=True)
    return answer.content.decode()


def facts() -> dict[str, object]:
    return CheckMade.objects.get().facts


def level(of: Station, topic: str, days_later: int = 0) -> str:
    board = check_board(of, NOW + days_later * DAY)
    return next(
        line.level for part in board.parts for line in part.lines if line.plan.topic == topic
    )


class TestPages:
    @pytest.mark.parametrize(
        ("address", "typed", "kept"),
        [
            pytest.param(
                "T1/check/load-test",
                {"power_kw": "100 kW", "length_min": "15", "result": "good"},
                {"power_kw": 100, "length_min": 15, "result": "good"},
                marks=pytest.mark.need(17),
            ),
            pytest.param(
                "T1/check/water",
                {"conductivity_us_cm": "0,8", "leakage_ma": "1.5"},
                {"conductivity_us_cm": 0.8, "leakage_ma": 1.5},
                marks=pytest.mark.need(65),
            ),
            pytest.param(
                "T1/check/make-up",
                {"litres": "40", "source": "still"},
                {"litres": 40, "source": "still"},
                marks=pytest.mark.need(65),
            ),
            pytest.param(
                "T1/check/resin",
                {"bed": "east", "passed_m3": "120"},
                {"bed": "east", "passed_m3": 120},
                marks=pytest.mark.need(65),
            ),
            pytest.param(
                "T1/check/measurement",
                {"what": "spurious", "instrument": "analyser 3", "result": "-72 dB"}
                | {"due": "2027-03-01"},
                {"what": "spurious", "instrument": "analyser 3", "result": "-72 dB"}
                | {"due": "2027-03-01"},
                marks=pytest.mark.need(84),
            ),
            pytest.param(
                "T1/check/frequency",
                {"offset_hz": "-2,5", "frequency_khz": "6105"},
                {"offset_hz": -2.5, "frequency_khz": 6105},
                marks=pytest.mark.need(23),
            ),
            pytest.param(
                "check/weather",
                {"code": "ice", "temperature_c": "-4"},
                {"code": "ice", "temperature_c": -4},
                marks=pytest.mark.need(43),
            ),
        ],
    )
    def test_what_was_typed_is_kept(
        self,
        shift: Person,
        transmitter: Transmitter,
        address: str,
        typed: dict[str, str],
        kept: dict[str, object],
    ) -> None:
        send(shift, address, **typed)
        assert facts() == kept
        call_command("verify_log", stdout=StringIO())

    @pytest.mark.parametrize(
        ("address", "typed", "sentence"),
        [
            ("T1/check/make-up", {"litres": "many"}, "is not a number"),
            ("T1/check/make-up", {}, "This field is required"),
            ("T1/check/frequency", {"offset_hz": "2 kHz", "frequency_khz": "6105"}, "not a number"),
            ("T1/check/load-test", {"power_kw": "100", "result": "fine"}, "Select a valid choice"),
            ("T1/check/measurement", {"due": "next spring"}, "Write the day as"),
        ],
    )
    def test_what_cannot_be_is_said_at_its_field(
        self,
        shift: Person,
        transmitter: Transmitter,
        address: str,
        typed: dict[str, str],
        sentence: str,
    ) -> None:
        assert sentence in send(shift, address, **typed)
        assert not CheckMade.objects.exists()

    @pytest.mark.parametrize(
        "address", ["check/load-test", "T1/check/weather", "check/tower-repair", "check/nothing"]
    )
    def test_topic_stands_at_its_own_place_alone(
        self, shift: Person, transmitter: Transmitter, address: str
    ) -> None:
        assert signed_in(shift).get(f"/log/{address}").status_code == 404

    def test_weather_stands_on_every_day_sheet(
        self, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        send(shift, "check/weather", code="rain")
        page = signed_in(shift).get("/log/T1/day/2026-03-02").content.decode()
        assert "Weather: Weather rain" in page

    @pytest.mark.need(17)
    def test_test_into_load_is_no_service(self, shift: Person, transmitter: Transmitter) -> None:
        """Its state is not one of those on the air, so no transmission began."""
        assert State.TEST_LOAD in HT_UP
        assert State.TEST_LOAD not in ON_AIR_STATES


class TestToneTest:
    def test_tone_currents_are_readings(self, shift: Person, transmitter: Transmitter) -> None:
        tone = make_meter(transmitter, "m1_tone", quantity="tone_current", occasion="test")
        page = signed_in(shift).get("/log/T1/check/tone-test").content.decode()
        assert "m1 tone, A" in page
        typed = {"tone_hz": "400", "depth_percent": "90", "result": "good", "cell-m1_tone": "11,2"}
        send(shift, "T1/check/tone-test", **typed)
        row = CheckMade.objects.get()
        reading = Round.objects.get(entry=row.after).readings.get()
        assert (reading.meter, reading.value) == (tone, 11.2)
        assert row.after.round.kind == "extra"


@pytest.mark.need(85)
class TestFilamentStep:
    TYPED = {"socket": "T1/final/V1", "volts_v": "12", "stepped_v": "11.4", "length_min": "3"} | {
        "anode_a": "12.4",
        "anode_stepped_a": "11.78",
        "grid_a": "1.14",
        "grid_stepped_a": "1.026",
    }

    @pytest.fixture
    def tube(self, shift: Person, transmitter: Transmitter) -> str:
        make_tube(transmitter, "A-1")
        make_sockets(transmitter)
        send(shift, "tube-move", tube="A-1", to="T1/final/V1", clock="06:00")
        return "A-1"

    def test_it_belongs_to_the_tube_that_stood_there(self, shift: Person, tube: str) -> None:
        """12.4 to 11.78 A is 5 %, 1.14 to 1.026 A is 10 %."""
        send(shift, "T1/check/filament-step", **self.TYPED)
        assert facts()["tube"] == tube
        page = signed_in(shift).get(f"/log/tube/{tube}").content.decode()
        assert "Filament step tests" in page
        assert '<td class="number">5.0</td><td class="number">10.0</td>' in page

    def test_under_the_makers_minimum_is_asked_about(self, shift: Person, tube: str) -> None:
        typed = {**self.TYPED, "stepped_v": "11.2"}
        page = send(shift, "T1/check/filament-step", **typed)
        assert "under the maker&#x27;s minimum of 11.4 V of tube A-1" in page
        assert not CheckMade.objects.exists()
        send(shift, "T1/check/filament-step", **typed, meant="minimum:11.2")
        assert not CheckMade.objects.exists()
        send(shift, "T1/check/filament-step", **typed, meant="minimum:11.2", note="slipped")
        assert CheckMade.objects.get().note == "slipped"


@pytest.mark.need(61)
class TestFilamentSetting:
    TYPED = {"socket": "T1/final/V1", "found_v": "12", "left_v": "11.8"} | {
        "measured": "tube-rms",
        "sign": "none",
        "grid_a": "1.14",
        "grid_stepped_a": "1.1172",
    }

    @pytest.fixture
    def tube(self, shift: Person, transmitter: Transmitter) -> str:
        make_tube(transmitter, "A-1", earlier_h=6000)
        make_sockets(transmitter)
        send(shift, "tube-move", tube="A-1", to="T1/final/V1", clock="06:00")
        return "A-1"

    def test_it_stands_on_the_tubes_card_with_what_it_did(self, shift, tube) -> None:
        """1.14 to 1.1172 A is 2 %; 12 to 11.8 V is 1.7 %, which is asked nothing."""
        send(shift, "T1/check/filament-setting", **self.TYPED)
        assert facts()["tube"] == tube
        page = signed_in(shift).get(f"/log/tube/{tube}").content.decode()
        assert '<td class="number">6000</td><td class="number">12.0 to 11.8</td>' in page
        assert '<td>true RMS at the tube</td><td>none</td><td class="number">2.0</td>' in page

    @pytest.mark.need(71)
    def test_page_shows_the_cautions(self, shift, tube) -> None:
        page = signed_in(shift).get("/log/T1/check/filament-setting").content.decode()
        assert "never bridge an interlock" in page

    @pytest.mark.parametrize(
        ("over", "name", "said"),
        [
            ({"left_v": "11.3"}, "minimum:11.3", "under the maker&#x27;s minimum of 11.4 V"),
            ({"left_v": "12.7"}, "maximum:12.7", "over the maker&#x27;s maximum of 12.6 V"),
            ({"left_v": "11.7"}, "step:11.7", "A step of -2.5 %"),
        ],
    )
    def test_it_is_asked_about_and_never_refused(self, shift, tube, over, name, said) -> None:
        """12 to 11.7 V is 2.5 %; 11.3 is under and 12.7 over what the maker says."""
        typed = {**self.TYPED, "found_v": "11.5" if name.startswith("min") else "12", **over}
        assert said in send(shift, "T1/check/filament-setting", **typed)
        send(shift, "T1/check/filament-setting", **typed, meant=name)
        assert not CheckMade.objects.exists()
        send(shift, "T1/check/filament-setting", **typed, meant=name, note="supply fault")
        assert facts()["left_v"] == float(over["left_v"])

    def test_the_first_200_hours_are_asked_about(self, shift, transmitter, tube) -> None:
        Tube.objects.update(earlier_h=150)
        page = send(shift, "T1/check/filament-setting", **self.TYPED)
        assert "has 150 filament hours: the first 200 are run at the rated 12 V" in page

    def test_without_a_minimum_in_the_register_nothing_is_asked_of_it(self, shift, tube) -> None:
        TubeType.objects.update(filament_minimum_v=None)
        send(
            shift, "T1/check/filament-setting", **self.TYPED | {"found_v": "11.4", "left_v": "11.3"}
        )
        assert facts()["left_v"] == 11.3

    def test_back_up_is_told_as_a_rise(self, shift, tube) -> None:
        typed = {"found_v": "11.8", "left_v": "11.9", "grid_a": "1.10", "grid_stepped_a": "1.122"}
        page = send(shift, "T1/check/filament-setting", **{**self.TYPED, **typed})
        assert CheckMade.objects.exists(), page
        assert "grid rose by 2 %" in entry_words(Entry.objects.order_by("-no")[0])


@pytest.mark.need(23)
class TestFrequency:
    def test_offset_outside_the_tolerance_is_asked_about(
        self, shift: Person, transmitter: Transmitter
    ) -> None:
        typed = {"offset_hz": "-12", "frequency_khz": "6105"}
        page = send(shift, "T1/check/frequency", **typed)
        assert "-12 Hz is outside ±10 Hz" in page
        send(shift, "T1/check/frequency", **typed, meant="offset:-12", note="engineer told")
        assert facts()["offset_hz"] == -12

    def test_tolerance_is_the_transmitters_own(
        self, shift: Person, transmitter: Transmitter
    ) -> None:
        Transmitter.objects.update(frequency_tolerance_hz=20)
        send(shift, "T1/check/frequency", offset_hz="-12", frequency_khz="6105")
        assert facts()["offset_hz"] == -12


@pytest.mark.need(80)
class TestTowerLights:
    FAILED = {"result": "not-good", "light": "mast 2, top", "told": "air traffic control"} | {
        "told_at": "2026-03-02 08:55"
    }

    def test_fault_stands_open_until_its_repair(self, shift: Person, station: Station) -> None:
        send(shift, "check/tower-lights", **self.FAILED)
        fault = CheckMade.objects.get()
        assert open_lights(station) == [fault]
        assert "mast 2, top" in signed_in(shift).get("/log/checks").content.decode()
        send(shift, f"check/{fault.entry.no}/repaired", done="lamp changed", clock="08:55")
        assert open_lights(station) == []
        assert CheckMade.objects.last().before == fault.entry

    def test_who_was_told_is_asked_for(self, shift: Person, station: Station) -> None:
        page = send(shift, "check/tower-lights", result="not-good", light="mast 2, top")
        assert "who was told, and when?" in page
        assert not CheckMade.objects.exists()

    def test_lit_lights_open_nothing(self, shift: Person, station: Station) -> None:
        send(shift, "check/tower-lights", result="good")
        assert open_lights(station) == []
        assert level(station, "tower-lights") == ""

    def test_struck_repair_leaves_it_open(self, shift: Person, station: Station) -> None:
        by = {"by": shift, "at": NOW}
        columns = {"topic": "tower-lights", "facts": {"result": "not-good"}}
        fault = record_check(station, None, columns, observed_at=NOW, **by).checkmade
        repair = record_repair(fault, {"done": "lamp"}, "", observed_at=NOW, **by)
        with pytest.raises(AlreadyRepaired):
            record_repair(fault, {"done": "lamp"}, "", observed_at=NOW, **by)
        void_entry(repair, reason="the other mast", **by)
        assert open_lights(station) == [fault]

    def test_repair_before_the_fault_is_asked_about(self, shift: Person, station: Station) -> None:
        send(shift, "check/tower-lights", **self.FAILED)
        fault = CheckMade.objects.get().entry.no
        page = send(shift, f"check/{fault}/repaired", done="lamp", clock="08:00")
        assert "It was seen to fail after that" in page


class TestDue:
    @pytest.mark.parametrize(("days", "expected"), [(0, ""), (7, "due"), (8, "overdue")])
    def test_weekly_test(
        self, shift: Person, transmitter: Transmitter, days: int, expected: str
    ) -> None:
        assert level(transmitter.station, "load-test") == "due"
        send(shift, "T1/check/load-test", power_kw="100", result="good")
        assert level(transmitter.station, "load-test", days) == expected

    @pytest.mark.need(84)
    @pytest.mark.parametrize(("days", "expected"), [(0, ""), (340, "due"), (366, "overdue")])
    def test_measurement_is_due_on_the_day_that_was_written(
        self, shift: Person, transmitter: Transmitter, days: int, expected: str
    ) -> None:
        typed = {"what": "performance", "instrument": "set 2", "result": "good"}
        send(shift, "T1/check/measurement", **typed, due="2027-03-02")
        assert level(transmitter.station, "measurement", days) == expected

    def test_struck_test_does_not_count(self, shift: Person, transmitter: Transmitter) -> None:
        send(shift, "T1/check/load-test", power_kw="100", result="good")
        void_entry(CheckMade.objects.get().entry, reason="other set", by=shift, at=NOW)
        assert level(transmitter.station, "load-test") == "due"


@pytest.mark.need(3)
class TestAdjustment:
    @pytest.fixture
    def found(self, shift: Person, transmitter: Transmitter, meter: Meter) -> Entry:
        """Read as found, beyond its limit of 13.2 A."""
        make_limit(meter)
        make_state(shift, transmitter)
        return make_round(shift, transmitter, {meter.code: "13.4"}, kind="as_found").entry

    def test_found_action_left(
        self, shift: Person, transmitter: Transmitter, meter: Meter, found: Entry
    ) -> None:
        after = SLOT + timedelta(hours=1)
        left = make_round(shift, transmitter, {meter.code: "12.4"}, kind="as_left", slot=after)
        send(
            shift,
            "T1/adjustment",
            as_found=str(found.no),
            as_left=str(left.entry.no),
            action="coupling 609 to 601",
        )
        row = CheckMade.objects.get()
        assert (row.before, row.after, row.facts) == (
            found,
            left.entry,
            {"action": "coupling 609 to 601"},
        )

    def test_left_alone_needs_a_reason(self, shift: Person, transmitter: Transmitter) -> None:
        page = send(shift, "T1/adjustment", action="coupling")
        assert "Read it as found before adjusting" in page
        assert not CheckMade.objects.exists()
        send(shift, "T1/adjustment", action="coupling", note="tripping")
        assert CheckMade.objects.get().note == "tripping"

    def test_left_is_asked_for_where_a_value_had_passed_its_limit(
        self, shift: Person, transmitter: Transmitter, found: Entry
    ) -> None:
        typed = {"as_found": str(found.no), "action": "coupling"}
        assert "read it as left too" in send(shift, "T1/adjustment", **typed)
        send(shift, "T1/adjustment", **typed, meant=f"left:{found.no}")
        assert CheckMade.objects.get().after is None

    def test_left_before_found_is_refused(
        self, shift: Person, transmitter: Transmitter, meter: Meter, found: Entry
    ) -> None:
        before = SLOT - timedelta(minutes=30)
        left = make_round(shift, transmitter, {meter.code: "12.4"}, kind="as_left", slot=before)
        typed = {"as_found": str(found.no), "as_left": str(left.entry.no), "action": "coupling"}
        assert "It was read before the round as found" in send(shift, "T1/adjustment", **typed)

    def test_page_leads_to_the_rounds_of_its_kind(
        self, shift: Person, transmitter: Transmitter, meter: Meter
    ) -> None:
        page = signed_in(shift).get("/log/T1/round?kind=as_found").content.decode()
        assert '<option value="as_found" selected>' in page
