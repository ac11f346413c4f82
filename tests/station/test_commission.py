"""Taking a register file: every fault with its place, all or nothing, twice the same."""

from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from logbook.models import Reading
from station.models import (
    Instrument,
    Limit,
    Meter,
    Normal,
    Person,
    Station,
    Transmitter,
    TubeType,
)
from station.signals import limits_changed
from tests.make import make_round
from tests.station.files import DEMO, SMALL, TAKEN_AT, changed, take

LATER = datetime(2026, 4, 1, tzinfo=UTC)
BEGIN = datetime(2019, 12, 31, 23, tzinfo=UTC)  # 2020-01-01 00:00 in Vienna, UTC+1

FAULTS = {
    "unknown unit": (
        ('"anode_current", socket = "V1"', '"anode_current", unit = "furlong", socket = "V1"'),
        "T1.meters.v1_anode_current.unit: 'furlong' is not a known unit of anode current",
    ),
    "unknown quantity": (
        ('quantity = "anode_current", socket = "V2"', 'quantity = "anod_current", socket = "V2"'),
        "T1.meters.v2_anode_current.quantity: 'anod_current' is not a known quantity. "
        "Did you mean 'anode_current'?",
    ),
    "duplicate meter": (
        ('{ code = "v2_anode_current"', '{ code = "v1_anode_current"'),
        "T1.meters.v1_anode_current: this code stands twice",
    ),
    "low over high": (
        ("warning = [11.6, 13.2], alarm", "warning = [13.2, 11.6], alarm"),
        "T1.limits.v1_anode_current: low warning 13.2 is not below high warning 11.6",
    ),
    "alarm inside warning": (
        ("alarm = [10.8, 14.0]", "alarm = [10.8, 13.0]"),
        "T1.limits.v1_anode_current: high warning 13.2 is not below high alarm 13",
    ),
    "equal limits": (
        ('meter = "v2_anode_current"\nmodulation = "carrier"', 'meter = "v1_anode_current"'),
        "T1.limits.v1_anode_current: two equal limits",
    ),
    "scale below limit": (
        ('socket = "V1", scale = 20', 'socket = "V1", scale = 13'),
        "T1.limits.v1_anode_current: high warning 13.2 is outside the scale 0 to 13",
    ),
    "unknown stage": (
        ('"anode_current", socket = "V1"', '"anode_current", stage = "fnal", socket = "V1"'),
        "T1.meters.v1_anode_current: 'fnal' is not a known stage. Did you mean 'final'?",
    ),
    "unknown socket": (
        ('"anode_current", socket = "V1"', '"anode_current", socket = "V9"'),
        "T1.meters.v1_anode_current: 'V9' is not a known socket",
    ),
    "wave outside antenna": (
        ("khz = 6105", "khz = 9690"),
        "T1.waves.9690: 9690 kHz is outside the range of antenna A1, 5900 to 7500 kHz",
    ),
    "date form": (
        ("valid_from = 2020-01-01", 'valid_from = "1.1.2020"'),
        "station.valid_from: '1.1.2020' is not understood: write 2026-03-29",
    ),
    "instant without zone": (
        ("valid_from = 2020-01-01", "valid_from = 2020-01-01T00:00:00"),
        "station.valid_from:",
    ),
    "missing like": (
        ('name = "200 kW"', 'name = "200 kW"\nlike = "T9"'),
        "T1.like: 'T9' is not a known transmitter of this file",
    ),
    "unknown key": (
        ('socket = "V1", scale = 20, step', 'socket = "V1", scale = 20, stpe = 1, step'),
        "T1.meters.v1_anode_current.stpe: 'stpe' is not a known key here. Did you mean 'step'?",
    ),
    "time allowed below nothing": (
        ('advice = "Read again."', 'advice = "Read again.", allowed_min = -1'),
        "T1.meters.v1_anode_current.allowed_min: write whole minutes from 0, 'at once', to 10080",
    ),
    "alarm without advice": (
        (', advice = "Read again."', ""),
        "T1.limits.v1_anode_current: an alarm without advice cannot be an alarm",
    ),
    "missing value": (
        ('socket = "V1", scale = 20, ', 'socket = "V1", '),
        "T1.meters.v1_anode_current: 'scale' is missing",
    ),
    "number as text": (
        ('socket = "V1", scale = 20', 'socket = "V1", scale = "20"'),
        "T1.meters.v1_anode_current.scale: '20' is not understood: write a number",
    ),
    "normals for too few powers": (
        ("normal = [9.6, 12.4], warning", "normal = [12.4], warning"),
        "T1.meters.v1_anode_current.normal: write one value for each power of power_kw",
    ),
    "time zone": (
        ("Europe/Vienna", "Europe/Viena"),
        "station.time_zone: write a time zone such as Europe/Vienna",
    ),
    "wave of a limit": (
        ('modulation = "carrier"', "khz = 7265"),
        "T1.limits.v2_anode_current (7265 kHz): 7265 kHz is no wave of T1",
    ),
    "power of a limit": (
        ('modulation = "carrier"', "power_kw = 80"),
        "T1.limits.v2_anode_current (80 kW): 80 kW is no power of T1",
    ),
    "interval too short": (
        ("on_air = 60", "on_air = 2"),
        "T1.every_min.on_air.minutes: ",
    ),
    "black heat above the rated voltage": (
        ("minimum_v = 11.4", "minimum_v = 11.4, black_heat_percent = 120"),
        "tube_types.F200.black_heat_percent: ",
    ),
    "tube that does not exist": (
        ('V1 = ["F200"]', 'V1 = ["F20"]'),
        "T1.sockets.V1: 'F20' is not a known tube type. Did you mean 'F200'?",
    ),
}
ALL_AT_ONCE = """
[transmitters.T5]
name = "full of faults"
like = "T9"
power_kw = [100]
stages = { final = { sockets = { V1 = ["F200"] } } }

[[transmitters.T5.panels]]
name = "Final"
meters = [
  { code = "a", quantity = "anode_current", unit = "furlong", scale = 20, step = 0.2 },
  { code = "b", quantity = "anode_curent", scale = 20, step = 0.2 },
  { code = "c", quantity = "grid_bias", scale = 800, step = 10 },
  { code = "c", quantity = "grid_bias", scale = 800, step = 10 },
  { code = "d", quantity = "anode_current", scale = 20, step = 0.2, warning = [13, 11] },
  { code = "e", quantity = "anode_current", scale = 20, step = 0.2, warning = [11, 13] },
  { code = "f", quantity = "anode_current", scale = 12, step = 0.2, warning = [11, 13] },
  { code = "g", quantity = "anode_current", stage = "drive", socket = "V1", scale = 20, step = 1 },
  { code = "h", quantity = "anode_current", scale = 20, step = 0.2, valid_from = "1.3.2026" },
]

[[transmitters.T5.limits]]
meter = "e"
warning = [10, 14]

[[transmitters.T5.waves]]
khz = 9690
antenna = "A1"
"""
ALL_NAMED = [
    "T5.meters.a.unit: 'furlong' is not a known unit",
    "T5.meters.b.quantity: 'anode_curent' is not a known quantity",
    "T5.meters.c: this code stands twice",
    "T5.limits.d: low warning 13 is not below high warning 11",
    "T5.limits.e: two equal limits",
    "T5.limits.f: high warning 13 is outside the scale 0 to 12",
    "T5.meters.g: 'drive' is not a known stage",
    "T5.waves.9690: 9690 kHz is outside the range of antenna A1",
    "T5.meters.h.valid_from: '1.3.2026' is not understood",
    "T5.like: 'T9' is not a known transmitter",
]

pytestmark = pytest.mark.django_db


def run(path: Path, *options: str) -> str:
    out = StringIO()
    call_command("commission", str(path), *options, stdout=out, stderr=StringIO())
    return out.getvalue()


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(SMALL)
    return path


@pytest.fixture
def register() -> Transmitter:
    """The small file, taken."""
    assert take(SMALL).is_taken
    return Transmitter.objects.get()


def told(report: Any) -> str:
    return "\n".join(map(str, report.faults))


class TestFaults:
    @pytest.mark.parametrize("name", FAULTS)
    def test_a_fault_is_named_with_its_place(self, name: str) -> None:
        change, sentence = FAULTS[name]
        assert sentence in told(take(changed(change)))
        assert not Station.objects.exists()

    def test_many_faults_are_all_named_in_one_run(self, register: Transmitter) -> None:
        report = take(SMALL + ALL_AT_ONCE)
        assert [words for words in ALL_NAMED if words not in told(report)] == []
        assert Transmitter.objects.get() == register

    def test_each_fault_is_named_once(self) -> None:
        faults = [str(fault) for fault in take(SMALL + ALL_AT_ONCE).faults]
        assert len(set(faults)) == len(faults)

    def test_a_slip_of_form_is_named_with_its_line(self) -> None:
        report = take(changed(('code = "moor"', "code = moor")))
        assert "line 3" in told(report)

    @pytest.mark.parametrize("text", ["", "station = 3", "[station]\n", "transmitters = []"])
    def test_a_file_without_a_station_is_refused(self, text: str) -> None:
        assert "station" in told(take(text))

    def test_a_fault_leaves_the_register_as_it_was(self, register: Transmitter) -> None:
        wrong = changed(('name = "200 kW"', 'name = "other"'), FAULTS["unknown unit"][0])
        assert take(wrong).faults
        register.refresh_from_db()
        assert register.name == "200 kW"

    @pytest.mark.need(58)
    def test_a_limit_tighter_than_the_class_is_a_remark(self) -> None:
        """1.5 per cent of 20 A is 0.3 A; the warning lies 13.2 - 12.95 = 0.25 A away."""
        report = take(changed(("normal = [9.6, 12.4], warning", "normal = [9.6, 12.95], warning")))
        assert report.is_taken
        assert "T1.limits.v1_anode_current: the warning lies 0.25" in str(report.remarks[0])

    @pytest.mark.need(58)
    def test_a_limit_within_the_scatter_tells_the_false_marks(self) -> None:
        """0.8 A at 0.4 A scatter is 2 sigma: one side of the normal law holds 2.275 per cent
        (a standard table), times 168 hourly readings is 4 a week."""
        change = ('socket = "V1", scale = 20', 'socket = "V1", scatter = 0.4, scale = 20')
        remarks = [str(remark) for remark in take(changed(change)).remarks]
        assert any("about 4 false marks a week" in remark for remark in remarks)


class TestTaking:
    def test_the_first_run_makes_the_register(self, register: Transmitter) -> None:
        assert register.meters.count() == 2
        assert register.power_levels.count() == 2
        assert str(Instrument.objects.first().meter.socket.stage.code) == "final"
        assert register.station.time_zone == "Europe/Vienna"

    @pytest.mark.need(61)
    def test_what_the_maker_did_not_say_of_a_filament_stays_open(self) -> None:
        take(changed((" minimum_v = 11.4,", "")))
        kind = TubeType.objects.get()
        assert kind.filament_minimum_v is None
        assert (kind.life_exponent, kind.black_heat_percent) == (None, None)

    @pytest.mark.need(62)
    def test_exponent_and_black_heat_come_from_the_file(self) -> None:
        more = "life_exponent = 13, black_heat_percent = 80, minimum_v = 11.4"
        take(changed(("minimum_v = 11.4", more)))
        kind = TubeType.objects.get()
        assert (kind.life_exponent, kind.black_heat_percent) == (13.0, 80.0)

    def test_a_limit_begins_with_the_station(self, register: Transmitter) -> None:
        limit = Limit.objects.get(meter__code="v1_anode_current")
        assert (limit.valid_from, limit.author, limit.reason) == (BEGIN, None, "commissioning")

    def test_a_second_run_changes_nothing_and_says_so(self, small: Path) -> None:
        run(small)
        assert run(small) == "Nothing changed: the register says what the file says.\n"

    def test_the_demo_file_taken_twice_changes_nothing(self) -> None:
        text = DEMO.read_text()
        assert take(text).is_taken
        counts = [kind.objects.count() for kind in (Meter, Limit, Normal, Instrument)]
        again = take(text)
        assert again.comparison.is_empty
        assert [kind.objects.count() for kind in (Meter, Limit, Normal, Instrument)] == counts

    def test_a_dry_run_writes_nothing(self, small: Path) -> None:
        assert "Dry run, nothing written" in run(small, "--dry-run")
        assert not Station.objects.exists()

    def test_a_changed_limit_is_a_new_version(self, register: Transmitter) -> None:
        take(changed(("alarm = [10.8, 14.0]", "alarm = [10.8, 14.5]")), at=LATER)
        versions = Limit.objects.filter(meter__code="v1_anode_current")
        assert [(one.high_alarm, one.valid_from) for one in versions] == [
            (14.0, BEGIN),
            (14.5, LATER),
        ]

    def test_a_changed_limit_may_say_from_when(self, register: Transmitter) -> None:
        change = ("alarm = [10.8, 14.0]", "alarm = [10.8, 14.5], valid_from = 2026-02-01T06:00:00Z")
        take(changed(change), at=LATER)
        newest = Limit.objects.filter(meter__code="v1_anode_current").last()
        assert newest.valid_from == datetime(2026, 2, 1, 6, tzinfo=UTC)

    def test_a_version_before_the_one_in_force_is_refused(self, register: Transmitter) -> None:
        change = ("alarm = [10.8, 14.0]", "alarm = [10.8, 14.5], valid_from = 2019-01-01")
        assert "valid_from must be later than" in told(take(changed(change), at=LATER))

    def test_a_changed_scale_is_a_new_instrument(self, register: Transmitter) -> None:
        take(changed(('socket = "V1", scale = 20', 'socket = "V1", scale = 50')), at=LATER)
        old, new = Instrument.objects.filter(meter__code="v1_anode_current")
        assert (old.full_scale, old.valid_until) == (20, LATER)
        assert (new.full_scale, new.valid_from, new.valid_until) == (50, LATER, None)

    def test_a_row_that_vanished_is_told_and_kept(self, small: Path) -> None:
        run(small)
        small.write_text(changed(('[[transmitters.T1.waves]]\nkhz = 6105\nantenna = "A1"', "")))
        assert "gone from the file, kept in the register: T1.waves.6105" in run(small)
        assert Transmitter.objects.get().waves.count() == 1

    def test_limits_changed_is_told_once_with_its_instant(
        self, register: Transmitter, django_capture_on_commit_callbacks: Any
    ) -> None:
        heard = []

        def hear(transmitter: Transmitter, since: datetime, **kwargs: Any) -> None:
            heard.append((transmitter.code, since))

        limits_changed.connect(hear)
        with django_capture_on_commit_callbacks(execute=True):
            take(changed(("alarm = [10.8, 14.0]", "alarm = [10.8, 14.5]")), at=LATER)
        limits_changed.disconnect(hear)
        assert heard == [("T1", LATER)]

    @pytest.mark.need(29)
    def test_a_limit_takes_what_follows_and_the_time_allowed(self) -> None:
        said = 'advice = "Read again.", consequence = "The anode overheats.", allowed_min = 10'
        take(changed(('advice = "Read again."', said)))
        limit = Limit.objects.filter(meter__code="v1_anode_current").first()
        assert (limit.consequence, limit.allowed_min) == ("The anode overheats.", 10)


class TestFrozen:
    @pytest.mark.parametrize(
        ("new", "words"),
        [
            ('"anode_current", unit = "mA",', "unit cannot change from A to mA"),
            ('"grid_current",', "quantity cannot change from anode_current to grid_current"),
        ],
    )
    def test_unit_and_quantity_of_a_read_meter_stay(
        self, register: Transmitter, shift: Person, new: str, words: str
    ) -> None:
        make_round(shift, register, {"v2_anode_current": "12.4"})
        text = changed(('"anode_current", socket = "V2",', f'{new} socket = "V2",'))
        assert words in told(take(text, at=LATER))
        assert Reading.objects.get().meter.quantity == "anode_current"

    def test_a_meter_never_read_may_change(self, register: Transmitter) -> None:
        text = changed(('"anode_current", socket = "V2"', '"grid_current", socket = "V2"'))
        assert take(text, at=LATER).is_taken


class TestLaterEdits:
    @pytest.fixture
    def edited(self, small: Path) -> Path:
        run(small)
        Meter.objects.filter(code="v1_anode_current").update(label="left final")
        return small

    def test_a_later_edit_is_shown_and_refused(self, edited: Path) -> None:
        with pytest.raises(CommandError, match="label 'left final' -> 'V1 anode current'"):
            run(edited)
        assert Meter.objects.get(code="v1_anode_current").label == "left final"

    def test_take_file_lets_the_file_win(self, edited: Path) -> None:
        run(edited, "--take-file")
        assert Meter.objects.get(code="v1_anode_current").label == "V1 anode current"

    def test_an_edit_brought_into_the_file_is_no_difference(self, edited: Path) -> None:
        edited.write_text(
            changed(
                ('{ code = "v1_anode_current"', '{ label = "left final", code = "v1_anode_current"')
            )
        )
        assert run(edited).startswith("Nothing changed")
        edited.write_text(
            changed(('{ code = "v1_anode_current"', '{ label = "V1", code = "v1_anode_current"'))
        )
        assert "label 'left final' -> 'V1'" in run(edited)

    def test_a_limit_edited_by_a_person_is_a_difference(
        self, register: Transmitter, engineer: Person
    ) -> None:
        limit = Limit.objects.get(meter__code="v1_anode_current")
        limit.pk, limit.author, limit.high_alarm = None, engineer, 13.8
        limit.valid_from = TAKEN_AT
        limit.save()
        report = take(SMALL, at=LATER)
        assert [str(change) for change in report.comparison.edited_later] == [
            "T1.limits.v1_anode_current: high_alarm 13.8 -> 14.0"
        ]
        assert not report.is_taken

    def test_what_was_taken_out_is_not_put_back_unasked(self, register: Transmitter) -> None:
        Limit.objects.filter(meter__code="v2_anode_current").delete()
        assert take(SMALL, at=LATER).comparison.removed_later == [
            "T1.limits.v2_anode_current (carrier)"
        ]
        assert not Limit.objects.filter(meter__code="v2_anode_current").exists()


class TestLike:
    T2 = '\n[transmitters.T2]\nlike = "T1"\nname = "spare"\n'

    def test_everything_but_normals_is_taken_over(self) -> None:
        assert take(SMALL + self.T2).is_taken
        spare = Transmitter.objects.get(code="T2")
        assert [meter.label for meter in spare.meters.all()] == ["V1 anode current"] + [
            "V2 anode current"
        ]
        assert spare.waves.get().antenna.code == "A1"
        assert Limit.objects.filter(meter__transmitter=spare).count() == 2

    @pytest.mark.case("C27")
    def test_normal_values_are_each_transmitters_own(self) -> None:
        take(SMALL + self.T2)
        assert Normal.objects.filter(meter__transmitter__code="T1").count() == 4
        assert not Normal.objects.filter(meter__transmitter__code="T2").exists()

    def test_own_limits_replace_the_others(self) -> None:
        own = '[[transmitters.T2.limits]]\nmeter = "v1_anode_current"\nwarning = [5, 6]\n'
        take(SMALL + self.T2 + own)
        limit = Limit.objects.get(meter__transmitter__code="T2", meter__code="v1_anode_current")
        assert (limit.low_warning, limit.high_warning, limit.high_alarm) == (5, 6, None)

    def test_a_meter_may_be_left_out(self) -> None:
        take(SMALL + self.T2 + 'without = ["v2_anode_current"]\n')
        spare = Transmitter.objects.get(code="T2")
        assert [meter.code for meter in spare.meters.all()] == ["v1_anode_current"]

    def test_leaving_out_what_is_not_there_is_a_fault(self) -> None:
        report = take(SMALL + self.T2 + 'without = ["v3_anode_current"]\n')
        assert "T2.without: 'v3_anode_current' is not a known meter" in told(report)

    def test_a_circle_is_a_fault(self) -> None:
        text = changed(('name = "200 kW"', 'name = "200 kW"\nlike = "T2"')) + self.T2
        assert "would be like itself" in told(take(text))


class TestCommand:
    def test_faults_go_to_the_error_with_status_1(self, tmp_path: Path) -> None:
        path = tmp_path / "wrong.toml"
        path.write_text(changed(FAULTS["unknown unit"][0]))
        with pytest.raises(CommandError, match="1 fault; nothing was changed") as refused:
            run(path)
        assert refused.value.returncode == 1

    def test_a_missing_file_is_wrong_use(self, tmp_path: Path) -> None:
        with pytest.raises(CommandError, match="there is no file"):
            run(tmp_path / "none.toml")

    def test_a_file_that_is_not_text_is_refused(self, tmp_path: Path) -> None:
        path = tmp_path / "bytes.toml"
        path.write_bytes(b"\xff\xfe")
        with pytest.raises(CommandError, match="is not UTF-8 text"):
            run(path)

    def test_later_edits_are_refused_with_status_1(self, small: Path) -> None:
        run(small)
        Station.objects.update(name="Other")
        with pytest.raises(CommandError, match="station: name 'Other' -> 'Moor'") as refused:
            run(small)
        assert refused.value.returncode == 1
