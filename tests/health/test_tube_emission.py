"""A tube's emission and filament from the log: read of its own stay, shown with its evidence."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.tube_emission import TubeEmission, build_tube_emission
from health.boards.tubes import build_tube_board
from health.models import ChannelBaseline, ChannelDay, Drift, Summary
from health.rules.emission import Emission
from logbook.services.tubes import TubeDraft, record_tube_moves
from logbook.times import minute_of
from station.models import Meter, Person, Socket, Station, Transmitter, Tube, TubeType
from tests.make import (
    make_check,
    make_meter,
    make_round,
    make_sockets,
    make_state,
    make_transmitter,
    make_tube,
)
from tests.people import signed_in

START = datetime(2026, 1, 5, tzinfo=UTC)
NOW = START + timedelta(weeks=12)
DAY, WEEK = timedelta(days=1), timedelta(weeks=1)
DAY_MIN = 24 * 60

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def fitted(engineer: Person, transmitter: Transmitter, tube: Tube, sockets) -> Tube:
    """In V1 for twelve weeks, on the air all the time: 168 filament hours a week."""
    put_in(engineer, tube, sockets[0], START)
    make_state(engineer, transmitter, observed_at=START)
    return tube


def put_in(by: Person, tube: Tube, socket: Socket, at: datetime) -> None:
    moves = [TubeDraft(tube, None, socket)]
    record_tube_moves(by.station, moves, observed_at=at, by=by, at=at)


def step(by: Person, transmitter: Transmitter, at: datetime, **over: object) -> None:
    """5 % down on A-1 at 12.4 A, which went to 12.0 A: 3.2 %."""
    facts = {"volts_v": 12.0, "stepped_v": 11.4, "anode_a": 12.4, "anode_stepped_a": 12.0}
    facts |= {"socket": "T1/final/V1", "tube": "A-1", "length_min": 3.0, **over}
    make_check(by, "filament-step", facts, transmitter, observed_at=at)


def setting(by: Person, transmitter: Transmitter, at: datetime, **over: object) -> None:
    facts = {"found_v": 12.0, "left_v": 11.8, "measured": "tube-rms", "sign": "none"}
    facts |= {"socket": "T1/final/V1", "tube": "A-1", **over}
    make_check(by, "filament-setting", facts, transmitter, observed_at=at)


def shown(tube: Tube, gap_hours: float = 6.0) -> TubeEmission:
    """As the page reads it: with the type as it stands in the register now."""
    read = Tube.objects.select_related("station", "tube_type").get(pk=tube.pk)
    return build_tube_emission(read, NOW, gap_hours)


def evidence(tube: Tube) -> dict[str, str]:
    return {one.source: one.code for one in shown(tube).statement.evidence}


@pytest.mark.need(85)
class TestSteps:
    def test_they_stand_against_the_tubes_filament_hours(
        self, engineer, transmitter, fitted
    ) -> None:
        """6000 h before the log, and ten weeks of 168 h."""
        step(engineer, transmitter, START + 10 * WEEK)
        said = shown(fitted).statement
        assert said.state == Emission.FALLING
        assert said.evidence[1].figures["hours"] == pytest.approx(7680)
        assert said.evidence[1].figures["fall"] == 3.2
        assert said.due_h == pytest.approx((8180, 8680))

    def test_those_of_another_tube_do_not_speak(self, engineer, transmitter, fitted) -> None:
        step(engineer, transmitter, START + WEEK, tube="B-1")
        assert evidence(fitted)["step"] == "no-step"

    def test_they_follow_the_tube_to_another_socket(
        self, engineer, transmitter, fitted, sockets
    ) -> None:
        """Tested after ten weeks of 168 h in V1, moved to V2 a week later."""
        step(engineer, transmitter, START + 10 * WEEK)
        moves, at = [TubeDraft(fitted, *sockets)], START + 11 * WEEK
        record_tube_moves(fitted.station, moves, observed_at=at, by=engineer, at=at)
        found = shown(fitted).statement.evidence[1].figures
        assert found["hours"] == pytest.approx(7680)
        assert found["age"] == pytest.approx(336)

    def test_of_a_tube_on_the_shelf_its_own_tests_speak(
        self, engineer, transmitter, fitted, sockets
    ) -> None:
        step(engineer, transmitter, START + 10 * WEEK)
        out = [TubeDraft(fitted, sockets[0], None, "shelf", "weak")]
        at = NOW - DAY
        record_tube_moves(fitted.station, out, observed_at=at, by=engineer, at=at)
        board = shown(fitted)
        assert (board.statement.state, board.socket, board.gap) == (Emission.FALLING, None, None)


class TestTone:
    @pytest.fixture
    def tone(self, transmitter: Transmitter, sockets: tuple[Socket, Socket]) -> Meter:
        return make_meter(
            transmitter, "v1_tone", quantity="tone_current", socket=sockets[0], occasion="test"
        )

    def test_readings_at_lower_taps_are_taken_to_full_power(
        self, engineer, transmitter, fitted, tone
    ) -> None:
        """The HT goes with the root of the power: 8.52 A at 120 of 200 kW by tap is 11.0 A."""
        for week in range(12):
            at = START + week * WEEK + timedelta(hours=6)
            is_low = week % 4 == 3
            power = {"power_kw": 120.0 if is_low else 200.0, "set_by": "tap"}
            make_state(engineer, transmitter, observed_at=at - timedelta(hours=1), **power)
            typed = {tone.code: "8.52" if is_low else "11"}
            make_round(engineer, transmitter, typed, slot=at, kind="extra")
        said = shown(fitted).statement
        assert said.state == Emission.ENOUGH
        assert said.evidence[0].figures["level"] == pytest.approx(0.0, abs=0.05)
        assert said.at.date() == (START + 11 * WEEK).date()

    def test_tones_before_the_tube_do_not_speak(
        self, engineer, transmitter, sockets, tube, tone
    ) -> None:
        make_state(engineer, transmitter, observed_at=START)
        make_round(engineer, transmitter, {tone.code: "14"}, slot=START + DAY, kind="extra")
        put_in(engineer, tube, sockets[0], START + WEEK)
        assert shown(tube).statement.evidence[0].n == 0


class TestCarrier:
    @pytest.fixture
    def currents(self, transmitter: Transmitter, sockets: tuple[Socket, Socket]) -> list[Meter]:
        return [
            make_meter(transmitter, f"v{n}_anode_current", socket=socket)
            for n, socket in enumerate(sockets, start=1)
        ]

    def drifting(self, meter: Meter, channel: str, slope: float, offset: float) -> None:
        """Told, and for the last two weeks as far off."""
        last = minute_of(NOW) // DAY_MIN - 1
        own = {"transmitter": meter.transmitter, "channel": channel}
        relation = "pair" if channel.startswith("pair") else ""
        facts = {"points": 12, "days": 80, "p": 0.001, "slope_per_1000h": slope, "unit": "A"}
        Drift.objects.create(**own, meter=meter, day=last, relation=relation, **facts)
        ChannelBaseline.objects.create(
            **own, day=last - 60, centre=12.0, between=1, within=1, runs=6, readings=9, is_last=True
        )
        zero = ("run total squares count runs shift recent scatter reach far").split()
        zero += ["shift_squares", "shifts", "mean_squares", "means"]
        for day in range(last - 20, last + 1):
            # Before the last fortnight it was far off, which must not count.
            value = offset if day > last - 14 else 99.0
            ChannelDay.objects.create(**own, day=day, offset=value, **dict.fromkeys(zero, 0))

    def test_fall_against_the_pair_is_this_tubes_alone(
        self, engineer, transmitter, fitted, sockets, currents
    ) -> None:
        """The pair is the first above the second: 4 points down is V1 weak, and V2 is not."""
        put_in(engineer, make_tube(transmitter, "B-1"), sockets[1], START)
        self.drifting(currents[0], "v1_anode_current", -0.3, -0.24)
        self.drifting(currents[0], "pair v1_anode_current", -3.0, -4.0)
        lines = build_tube_board(transmitter.station, NOW).sockets
        assert [line.emission.state for line in lines] == [Emission.WEAK, Emission.UNTOLD]
        carrier = lines[0].emission.evidence[2]
        assert (carrier.code, carrier.figures["recent"]) == ("carrier-pair", pytest.approx(-4.0))

    def test_second_of_a_pair_falls_where_the_first_rises_above_it(
        self, engineer, transmitter, fitted, sockets, currents
    ) -> None:
        second = make_tube(transmitter, "B-1")
        put_in(engineer, second, sockets[1], START)
        self.drifting(currents[0], "pair v1_anode_current", 3.0, 4.0)
        assert evidence(second)["carrier"] == "carrier-pair"
        assert evidence(fitted)["carrier"] == "carrier-steady"

    def test_own_current_is_in_per_cent_of_its_baseline(self, fitted, currents) -> None:
        """-0.48 of 12 A is -4 %, -0.3 A per 1000 h is -2.5 %."""
        self.drifting(currents[0], "v1_anode_current", -0.3, -0.48)
        carrier = shown(fitted).statement.evidence[2]
        assert carrier.figures["recent"] == pytest.approx(-4.0)
        assert carrier.figures["slope"] == pytest.approx(-2.5)


@pytest.mark.need(61)
class TestFilament:
    def test_recheck_is_due_after_three_months(self, engineer, transmitter, fitted) -> None:
        """Set at the start; 12 weeks later 13 have not passed, 14 weeks later they have."""
        setting(engineer, transmitter, START + DAY)
        board = shown(fitted)
        assert board.advice.due == START + DAY + 13 * WEEK
        assert not board.is_due
        assert build_tube_emission(fitted, START + 14 * WEEK, 6.0).is_due

    def test_no_life_multiplier_without_an_exponent(self, engineer, transmitter, fitted) -> None:
        setting(engineer, transmitter, START + DAY)
        page = signed_in(engineer).get("/tubes/A-1/emission").content.decode()
        assert "No exponent entered for this tube type: no life multiplier." in page

    def test_life_by_the_entered_exponent(self, engineer, transmitter, fitted) -> None:
        """11.4 of 12 V is 0.95; 0.95^-13 = 1.948 (reference value of the lamp law)."""
        TubeType.objects.update(life_exponent=13)
        setting(engineer, transmitter, START + DAY, left_v=11.4)
        assert shown(fitted).life.factor == pytest.approx(1.948, abs=5e-4)

    def test_minimum_not_entered_is_an_answer(self, engineer, transmitter, fitted) -> None:
        TubeType.objects.update(filament_minimum_v=None)
        page = signed_in(engineer).get("/tubes/A-1/emission").content.decode()
        assert "The maker&#x27;s minimum is not entered: no lower setting is proposed." in page
        assert "minimum not entered" in page

    def test_step_of_the_current_is_told_with_the_contact_first(
        self, engineer, transmitter, fitted, sockets
    ) -> None:
        """360 to 342 A at 12 V, ten days each."""
        own = {"socket": sockets[0], "unit": "A"}
        volts = make_meter(transmitter, "v1_volts", quantity="filament_voltage", **own)
        amps = make_meter(transmitter, "v1_amps", quantity="filament_current", **own)
        begin = minute_of(START + 2 * WEEK)
        for day, current in enumerate(np.repeat([360.0, 342.0], 10)):
            for meter, value in ((volts, 12.0), (amps, current)):
                self.summary(meter, begin + day * DAY_MIN, value)
        page = signed_in(engineer).get("/tubes/A-1/emission").content.decode()
        told = "The current went -5.0 % in a step on 2026-01-29 at the same voltage"
        assert told in page
        assert "temperature and torque of the filament contacts first, then the tube" in page
        assert "never bridge an interlock" in page

    def summary(self, meter: Meter, bucket: int, value: float) -> None:
        own = {"station": meter.station, "meter": meter, "grain": "day", "bucket": bucket}
        figures = {"low": value, "median": value, "high": value, "off_scale": 0, "n": 9}
        Summary.objects.create(**own, frequency_khz=6105.0, **figures)


@pytest.mark.need(62)
class TestGap:
    def test_black_heat_only_where_the_maker_permits(self, engineer, transmitter, fitted) -> None:
        page = signed_in(engineer).get("/tubes/A-1/emission").content.decode()
        assert "does not say that the maker permits black heat" in page
        TubeType.objects.update(black_heat_percent=80)
        page = signed_in(engineer).get("/tubes/A-1/emission?gap=8").content.decode()
        assert "no start; 8 h more of black heat at 80 % of the rated voltage" in page

    def test_both_costs_from_the_log(self, engineer, transmitter, fitted, sockets) -> None:
        """12 V and 360 A are 4.32 kW: 10 h at 80 % take 27.6 to 34.6 kWh; warming for 20 min."""
        TubeType.objects.update(black_heat_percent=80)
        own = {"socket": sockets[0], "unit": "V", "full_scale": 600.0}
        make_meter(transmitter, "v1_volts", quantity="filament_voltage", **own)
        make_meter(transmitter, "v1_amps", quantity="filament_current", **own)
        make_round(engineer, transmitter, {"v1_volts": "12", "v1_amps": "360"}, slot=START + DAY)
        night = START + 2 * DAY
        make_state(engineer, transmitter, observed_at=night, state="off")
        make_state(engineer, transmitter, observed_at=night + DAY / 4, state="warming")
        up = night + DAY / 4 + timedelta(minutes=20)
        make_state(engineer, transmitter, observed_at=up, state="standby")
        gap = shown(fitted, 10.0).gap
        assert gap.black_kwh == pytest.approx((27.648, 34.56))
        assert (gap.warm_ups.n, gap.warm_ups.median_min) == (1, pytest.approx(20))

    @pytest.mark.parametrize("gap", ["x", "0", "-1", "241", ""])
    def test_what_is_no_gap_is_said_at_its_field(self, viewer, fitted, gap) -> None:
        answer = signed_in(viewer).get(f"/tubes/A-1/emission?gap={gap}")
        assert answer.status_code == 400
        assert 'id="id_gap_error"' in answer.content.decode()


class TestPage:
    def test_hourly_readings_are_not_taken_for_an_answer(self, viewer, fitted) -> None:
        page = signed_in(viewer).get("/tubes/A-1/emission").content.decode()
        assert 'data-level="emission-untold"' in page
        assert "Nothing that was read can show the emission of this tube now." in page
        assert "Do a filament step test" in page

    @pytest.mark.need(71)
    def test_check_inside_the_cabinet_comes_with_its_cautions(
        self, engineer, transmitter, fitted
    ) -> None:
        """12.4 to 11.7 A is 5.6 % for 5 %."""
        step(engineer, transmitter, NOW - DAY, anode_stepped_a=11.7)
        page = signed_in(engineer).get("/tubes/A-1/emission").content.decode()
        assert 'data-level="emission-weak"' in page
        assert "never bridge an interlock" in page

    def test_it_is_reached_from_the_board_and_the_card(self, viewer, fitted) -> None:
        for address in ("/tubes", "/log/tube/A-1"):
            page = signed_in(viewer).get(address).content.decode()
            assert 'href="/tubes/A-1/emission"' in page

    def test_a_tube_of_another_station_is_not_there(self, stranger, fitted) -> None:
        assert signed_in(stranger).get("/tubes/A-1/emission").status_code == 404

    def test_board_takes_the_same_queries_for_3_and_12_transmitters(
        self, engineer, station: Station, fitted
    ) -> None:
        counts = []
        for code in ("T3", "M1", *(f"X{number}" for number in range(9))):
            other = make_transmitter(station=station, code=code)
            mine, socket = make_tube(other, f"{code}-1"), make_sockets(other)[0]
            make_meter(other, "v1_anode_current", socket=socket)
            tone = make_meter(other, "v1_tone", quantity="tone_current", socket=socket)
            put_in(engineer, mine, socket, START)
            make_state(engineer, other, observed_at=START)
            make_round(engineer, other, {tone.code: "11"}, slot=START + DAY)
            step(engineer, other, START + DAY, tube=f"{code}-1")
            if code in {"M1", "X8"}:
                with CaptureQueriesContext(connection) as queries:
                    board = build_tube_board(station, NOW)
                assert board.sockets[-2].emission.evidence[1].n == 1
                counts.append(len(queries))
        assert counts[0] == counts[1]
