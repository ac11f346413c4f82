"""The change of wave: filled in from what is known, asked about, written whole."""

from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command

from logbook.models import Entry, Round, StateChange, WaveChange
from logbook.standing import standing_at
from logbook.wave_log import WaveLog
from station.models import CoilSet, Meter, Normal, Person, ScheduleLine, Transmitter, Wave
from station.schedules import take_schedule
from tests.make import (
    SLOT,
    make_antenna,
    make_meter,
    make_round,
    make_sockets,
    make_state,
    make_tube,
    make_wave,
)
from tests.people import signed_in

NOW = SLOT + timedelta(hours=3)
DAY = timedelta(days=1)

pytestmark = [pytest.mark.need(18), pytest.mark.usefixtures("clock")]


@pytest.fixture
def dial(transmitter: Transmitter) -> Meter:
    make_meter(transmitter, "forward_power", quantity="forward_power", unit="kW", full_scale=250)
    scale = {"full_scale": 1000, "step": 1, "decimals": 0, "unit": "div"}
    return make_meter(transmitter, "tune_dial", quantity="dial", **scale)


@pytest.fixture
def coils(transmitter: Transmitter) -> CoilSet:
    """One coil set for 6105 and 7265 kHz; 9690 kHz has another one."""
    station = transmitter.station
    one, two = [
        CoilSet.objects.create(station=station, transmitter=transmitter, code=code)
        for code in ("1", "2")
    ]
    Wave.objects.filter(transmitter=transmitter).update(coil_set=one)
    make_wave(transmitter, 7265.0, coil_set=one)
    make_wave(transmitter, 9690.0, coil_set=two, antenna=make_antenna(station, "A2"))
    return one


def run_on(
    by: Person, transmitter: Transmitter, days: int, value: str, khz: float = 6105.0
) -> None:
    """A good run ``days`` days ago with its dial."""
    wave = transmitter.waves.select_related("antenna", "coil_set").get(frequency_khz=khz)
    at = SLOT - days * DAY
    facts = {"state": "on_air", "frequency_khz": khz, "antenna": wave.antenna, "power_kw": 200.0}
    facts |= {"coil_set": wave.coil_set, "is_retune": True}
    make_state(by, transmitter, observed_at=at, **facts)
    make_round(by, transmitter, {"tune_dial": value}, slot=at, observed_at=at + DAY / 48)
    make_state(by, transmitter, observed_at=at + DAY / 4, state="standby")


def typed(**over: str) -> dict[str, str]:
    """The page as it is sent when nothing deviates."""
    return {
        "frequency": "6105",
        "antenna": "A1",
        "power": "200/tap",
        "day": "2026-03-02",
        "ht_off": "08:50:10",
        "rf_on": "08:54:30",
        "full_power": "08:56:05",
        "left-tune_dial": "490",
        **over,
    }


def send(by: Person, **over: str) -> str:
    return signed_in(by).post("/log/T1/wave", typed(**over), follow=True).content.decode()


class TestSaved:
    def test_run_state_and_readings_are_written(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        make_state(shift, transmitter)
        send(shift, **{"found-tune_dial": "488", "left-forward_power": "199"})
        states = StateChange.objects.order_by("entry__no")[1:]
        assert [(row.state, f"{row.entry.observed_at:%H:%M:%S}") for row in states] == [
            ("standby", "08:50:10"),
            ("reduced", "08:54:30"),
            ("on_air", "08:56:05"),
        ]
        point = standing_at(transmitter, NOW)
        row = WaveChange.objects.get()
        assert (point.state, point.frequency_khz, point.power_kw) == ("on_air", 6105.0, 200.0)
        assert point.run == row.began.no
        rounds = {
            r.kind: {x.meter.code: x.value for x in r.readings.all()} for r in Round.objects.all()
        }
        assert rounds == {
            "as_found": {"tune_dial": 488},
            "as_left": {"tune_dial": 490, "forward_power": 199},
        }

    def test_chain_holds_what_it_says(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        send(shift)
        call_command("verify_log", stdout=StringIO())

    def test_same_page_sent_twice_is_saved_once(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        send(shift, client_key="k-1")
        entries = Entry.objects.count()
        send(shift, client_key="k-1")
        assert Entry.objects.count() == entries
        send(shift, client_key="k-1", note="another one")
        assert WaveChange.objects.count() == 2

    def test_dials_that_differ_from_the_best_known_are_said(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        run_on(shift, transmitter, 2, "490")
        send(shift, **{"left-tune_dial": "496"})
        assert WaveChange.objects.get().deviations == "tune dial +6 div"

    def test_it_stands_on_the_day_sheet(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        make_state(shift, transmitter)
        send(shift)
        page = signed_in(shift).get("/log/T1/day/2026-03-02").content.decode()
        assert "Wave changed from 6105 kHz to 6105 kHz; HT off 08:50:10 UTC" in page

    def test_unreadable_dial_is_kept_and_not_refused(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        send(shift, **{"left-tune_dial": "4q0"})
        reading = Round.objects.get().readings.get()
        assert (reading.code, reading.text) == ("T", "4q0")

    def test_stamps_over_midnight(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        times = {"ht_off": "23:58:00", "rf_on": "00:03:00", "full_power": "00:04:00"}
        make_state(shift, transmitter, observed_at=SLOT - DAY)
        make_state(shift, transmitter, observed_at=SLOT - DAY, state="on_air", frequency_khz=6105.0)
        send(shift, **times)
        assert f"{WaveChange.objects.get().ht_off_at:%m-%d %H:%M}" == "03-01 23:58"

    @pytest.mark.parametrize(
        ("wrong", "sentence"),
        [
            ({"rf_on": ""}, "Stamp it"),
            ({"ht_off": "08:55:00"}, "HT went off before RF came on"),
            ({"full_power": "08:53:00"}, "Full power came after RF on"),
            ({"frequency": ""}, "required"),
            ({"antenna": "A9"}, "A9"),
        ],
    )
    def test_what_cannot_be_is_said_at_its_field(
        self,
        shift: Person,
        transmitter: Transmitter,
        dial: Meter,
        wrong: dict[str, str],
        sentence: str,
    ) -> None:
        assert sentence in send(shift, **wrong)
        assert not WaveChange.objects.exists()


class TestStamp:
    def test_without_scripts_the_server_writes_the_time(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        sent = typed(rf_on="", full_power="", stamp="rf_on", note="new coil")
        page = signed_in(shift).post("/log/T1/wave", sent).content.decode()
        assert 'value="09:00:00"' in page
        assert 'value="08:50:10"' in page
        assert "new coil" in page
        assert not Entry.objects.exists()


@pytest.mark.need(19)
class TestFilledIn:
    def test_wave_of_the_next_start_and_its_best_known_dials(
        self, shift: Person, engineer: Person, transmitter: Transmitter, dial: Meter, coils: CoilSet
    ) -> None:
        for days, value in ((4, "300"), (3, "304"), (2, "302")):
            run_on(shift, transmitter, days, value, 9690.0)
        schedule(transmitter, engineer, 9690.0, start=9 * 60 + 12)
        page = signed_in(shift).get("/log/T1/wave").content.decode()
        assert "<strong>12 min</strong>" in page
        assert 'name="left-tune_dial" value="302"' in page
        assert "302 ±2 of 3 runs, last 302" in page

    def test_older_settings_after_a_tube_change_are_said_to_be_so(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        run_on(shift, transmitter, 2, "490")
        make_tube(transmitter, "A-1")
        make_sockets(transmitter)
        move = {"tube": "A-1", "to": "T1/final/V1", "day": "2026-03-01", "clock": "12:00"}
        signed_in(shift).post("/log/tube-move", move)
        page = signed_in(shift).get("/log/T1/wave?khz=6105").content.decode()
        assert "before the tube change" in page

    def test_commissioned_setting_stands_beside_it(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        Normal.objects.create(
            station=transmitter.station, meter=dial, value=487, frequency_khz=6105.0
        )
        page = signed_in(shift).get("/log/T1/wave?khz=6105").content.decode()
        assert ">487</td>" in page
        assert "not known yet" in page

    @pytest.mark.need(20)
    def test_new_wave_of_a_coil_set_is_interpolated_and_no_other(
        self, shift: Person, transmitter: Transmitter, dial: Meter, coils: CoilSet
    ) -> None:
        run_on(shift, transmitter, 3, "490", 6105.0)
        run_on(shift, transmitter, 2, "294", 7265.0)
        log = WaveLog(transmitter, NOW)
        found = log.neighbours(6600.0, coils)
        assert [(one.meter, round(one.found.value, 1)) for one in found] == [(dial, 393.7)]
        assert log.neighbours(9000.0, coils) == []
        other = CoilSet.objects.get(transmitter=transmitter, code="2")
        assert log.neighbours(6600.0, other) == []

    def test_page_says_the_span(
        self, shift: Person, transmitter: Transmitter, dial: Meter, coils: CoilSet
    ) -> None:
        run_on(shift, transmitter, 3, "490", 6105.0)
        run_on(shift, transmitter, 2, "294", 7265.0)
        page = signed_in(shift).get("/log/T1/wave?khz=6600&coil=1").content.decode()
        assert "about 394, between 6105 and 7265 kHz" in page


def schedule(of: Transmitter, by: Person, khz: float, start: int) -> None:
    facts = {"frequency_khz": khz, "start_min": start, "stop_min": start + 60, "days": "1234567"}
    line = ScheduleLine(station=of.station, transmitter=of, **facts)
    take_schedule(of.station, [line], effective_from=SLOT - DAY, note="", by=by, at=SLOT - DAY)


@pytest.mark.need(21)
@pytest.mark.need(22)
class TestAsked:
    """Case C12: each is asked about, answered by one tick and a reason, never refused."""

    @pytest.mark.parametrize(
        ("over", "sentence", "name"),
        [
            ({"frequency": "6.105"}, "did you mean 6105 kHz?", "khz:6.105"),
            ({"frequency": "61050"}, "did you mean 6105 kHz?", "khz:61050"),
            ({"frequency": "6107"}, "not a multiple of 5 kHz", "khz:6107"),
            ({"antenna": "A6"}, "Antenna A6 is for 6000 to 6100 kHz", "antenna:A6:6105"),
            ({"dials_of": "9690"}, "The dials were filled in for 9690 kHz", "dials:9690:6105"),
            ({"full_power": "09:20:00"}, "has not come yet", "future:2026-03-02T09:20"),
        ],
    )
    def test_asked_once_and_then_written(
        self,
        shift: Person,
        transmitter: Transmitter,
        dial: Meter,
        over: dict[str, str],
        sentence: str,
        name: str,
    ) -> None:
        make_antenna(transmitter.station, "A6", low_khz=6000.0, high_khz=6100.0)
        assert sentence in send(shift, **over)
        assert not WaveChange.objects.exists()
        send(shift, meant=name, note="as told by the engineer", **over)
        assert WaveChange.objects.count() == 1

    def test_reason_is_wanted_where_the_schedule_says_otherwise(
        self, shift: Person, engineer: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        schedule(transmitter, engineer, 9690.0, start=9 * 60)
        assert "The schedule has 9690 kHz" in send(shift)
        assert "the log keeps the reason" in send(shift, meant="off-schedule:6105")
        send(shift, meant="off-schedule:6105", note="programme asked for it")
        assert WaveChange.objects.get().note == "programme asked for it"


class TestCard:
    def test_settings_coupling_and_coils_of_every_wave(
        self, shift: Person, transmitter: Transmitter, dial: Meter, coils: CoilSet
    ) -> None:
        scale = {"full_scale": 1000, "step": 1, "decimals": 0, "unit": "div"}
        make_meter(transmitter, "coupling_dial", quantity="coupling_dial", **scale)
        run_on(shift, transmitter, 4, "490")
        run_on(shift, transmitter, 3, "300", 9690.0)
        run_on(shift, transmitter, 2, "492")
        make_round(shift, transmitter, {"coupling_dial": "609"}, slot=SLOT - 2 * DAY + DAY / 6)
        page = signed_in(shift).get("/log/T1/waves").content.decode()
        assert "491 ±1 of 2 runs, last 492" in page
        assert "200 kW: 609" in page
        assert "coil set 1: 2 times" in page
        assert "coil set 2: 1 times" in page

    def test_card_names_the_logs_head(
        self, shift: Person, transmitter: Transmitter, dial: Meter
    ) -> None:
        run_on(shift, transmitter, 2, "490")
        page: Any = signed_in(shift).get("/log/T1/waves").content.decode()
        assert "Sheet 1 of 1: wave settings of T1" in page
        assert "Log up to entry 3, digest" in page
