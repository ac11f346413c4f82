"""What a reading should be: a baseline, recent days, the run so far; and asked on the page."""

from collections.abc import Iterator
from datetime import timedelta

import numpy as np
import pytest
import time_machine

from health.assess import assess
from health.models import ChannelBaseline, Judging
from health.references import expected_values
from health.rules.baselines import FIRST_LEVELS, Point, is_due, learned
from health.rules.expected import LAST_OF_RUN, Ahead, expected, is_believed
from logbook.services.tubes import TubeDraft, record_tube_moves
from station.limits import LimitBook
from station.models import CoilSet, Meter, Person, Transmitter, Tube
from tests.make import (
    SLOT,
    make_check,
    make_meter,
    make_round,
    make_sockets,
    make_state,
    make_tube,
)
from tests.people import signed_in

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
STEP = 0.02


def points_of(runs: np.ndarray) -> list[Point]:
    """A point for each row of ``runs``, a day apart."""
    return [
        Point(day, day, float(row.mean()), row.size, float(((row - row.mean()) ** 2).sum()))
        for day, row in enumerate(runs)
    ]


class TestBaseline:
    def test_two_scatters_are_told_apart(self) -> None:
        """Made with 0.12 between and 0.05 within: the level's own error adds 0.05 / root of 6."""
        rng = np.random.default_rng(11)
        runs = rng.normal(12.4, 0.12, (200, 1)) + rng.normal(0, 0.05, (200, 6))
        found = learned(points_of(runs), STEP, is_last=True)
        assert found.centre == pytest.approx(12.4, abs=0.02)
        assert found.within == pytest.approx(0.05, rel=0.1)
        assert found.between == pytest.approx((0.12**2 + 0.05**2 / 6) ** 0.5, rel=0.12)

    def test_level_far_from_all_others_does_not_spoil_it(self) -> None:
        rng = np.random.default_rng(4)
        runs = rng.normal(12.4, 0.05, (20, 6))
        clean = learned(points_of(runs), STEP, is_last=True)
        runs[3] = 19.0
        found = learned(points_of(runs), STEP, is_last=True)
        assert found.centre == pytest.approx(clean.centre, abs=0.01)
        assert found.between == pytest.approx(clean.between, rel=0.15)

    @pytest.mark.case("C27")
    @pytest.mark.parametrize("runs", [1, 2, FIRST_LEVELS - 1])
    def test_too_few_runs_are_no_reference_yet(self, runs: int) -> None:
        assert not is_due(points_of(np.full((runs, 10), 12.4)), None, is_test=False)

    def test_many_days_of_one_run_are_one_run(self) -> None:
        of_one = [Point(day, 7, 12.4, 6, 0.0) for day in range(30)]
        assert not is_due(of_one, None, is_test=False)

    def test_days_within_a_week_are_no_reference_yet(self) -> None:
        """What wanders for weeks shows its level in no few days."""
        daily = [Point(day // 3, day, 12.4, 6, 0.0) for day in range(21)]
        assert not is_due(daily[:18], None, is_test=False)
        assert is_due(daily, None, is_test=False)

    def test_last_one_wants_four_weeks(self) -> None:
        daily = [Point(day, day, 12.4, 6, 0.0) for day in range(28)]
        first = learned(daily[:8], STEP, is_last=False)
        assert not is_due(daily[:27], first, is_test=False)
        assert is_due(daily, first, is_test=False)

    def test_of_what_climbs_a_month_would_take_the_climb_for_scatter(self) -> None:
        daily = [Point(day, day, 0.8 + 0.01 * day, 6, 0.0) for day in range(20)]
        first = learned(daily[:8], STEP, is_last=False)
        assert is_due(daily, first, is_test=False, climbs=True)
        assert not is_due(daily, first, is_test=False)

    def test_equal_readings_have_a_part_of_a_step(self) -> None:
        found = learned(points_of(np.full((9, 5), 12.4)), 0.3, is_last=True)
        assert (found.between, found.within) == pytest.approx((0.1, 0.1))


@pytest.mark.need(88)
class TestExpected:
    AHEAD = Ahead(*np.array([[12.4], [0.12], [0.05], [STEP]]))

    def of_run(self, *values: float) -> np.ndarray:
        missing = [np.nan] * (LAST_OF_RUN - len(values))
        return np.array([*missing, *values])[:, None]

    def test_first_of_a_run_is_judged_by_both(self) -> None:
        value, sigma, _reach = expected(self.AHEAD, self.of_run()).ravel()
        assert (value, sigma) == pytest.approx((12.4, 0.13))

    def test_later_ones_by_the_runs_own_level(self) -> None:
        """Share of the run's last three: 0.0144 / (0.0144 + 0.0025 / 3) = 0.9453."""
        value, sigma, _reach = expected(self.AHEAD, self.of_run(12.6, 12.7, 12.6)).ravel()
        assert value == pytest.approx(12.4 + 0.9453 * 0.2, abs=1e-4)
        assert sigma == pytest.approx(0.0573, abs=1e-4)

    def test_one_step_never_raises_anything(self) -> None:
        coarse = Ahead(*np.array([[12.4], [0.01], [0.01], [0.2]]))
        assert expected(coarse, self.of_run(12.4))[2] > 0.2

    def test_slow_meter_that_settles_is_given_more_room(self) -> None:
        usual = expected(self.AHEAD, self.of_run())[2]
        assert expected(self.AHEAD, self.of_run(), is_settling=True)[2] > 2 * usual

    @pytest.mark.parametrize(
        ("value", "is_confirmed", "previous", "believed"),
        [
            (12.6, False, np.nan, True),
            (1.26, False, np.nan, False),
            (14.0, True, np.nan, True),
            (14.0, False, 14.1, True),
            (np.nan, False, np.nan, False),
        ],
    )
    def test_slip_that_nobody_saw_is_not_believed(
        self, value: float, is_confirmed: bool, previous: float, believed: bool
    ) -> None:
        found = is_believed(
            self.AHEAD, np.array([value]), np.array([is_confirmed]), np.array([previous])
        )
        assert found.tolist() == [believed]


@pytest.mark.django_db
class TestLearned:
    """Twenty days of two runs of three rounds each; asked on the Monday after."""

    ASKED = SLOT + 21 * DAY + 2 * HOUR  # Monday 2026-03-23, 0800

    @pytest.fixture(autouse=True)
    def _clock(self) -> Iterator[None]:
        with time_machine.travel(self.ASKED + HOUR, tick=False):
            yield

    @pytest.fixture
    def meters(self, transmitter: Transmitter) -> tuple[Meter, Meter]:
        make_tube(transmitter, "A-1")
        first, second = make_sockets(transmitter)
        return (
            make_meter(transmitter, "v1_anode_current", socket=first, stage=first.stage),
            make_meter(transmitter, "v2_anode_current", socket=second, stage=second.stage),
        )

    def history(self, by: Person, transmitter: Transmitter, days: int = 20) -> None:
        rng = np.random.default_rng(2)
        for day in range(days):
            begin = SLOT + day * DAY
            make_state(by, transmitter, observed_at=begin - HOUR, **self.point(transmitter))
            for hour in range(3):
                values = {
                    code: f"{level + rng.normal(0, 0.05):.1f}"
                    for code, level in (("v1_anode_current", 12.4), ("v2_anode_current", 13.6))
                }
                make_round(by, transmitter, values, slot=begin + hour * HOUR)
            make_state(by, transmitter, observed_at=begin + 5 * HOUR, state="standby")
        make_state(by, transmitter, observed_at=self.ASKED - HOUR, **self.point(transmitter))

    def point(self, transmitter: Transmitter) -> dict[str, object]:
        wave = transmitter.waves.select_related("antenna").first()
        facts = {"state": "on_air", "frequency_khz": wave.frequency_khz, "antenna": wave.antenna}
        return {**facts, "power_kw": 200.0, "set_by": "tap", "is_retune": True}

    def known(self, transmitter: Transmitter) -> dict[str, float]:
        found = expected_values(LimitBook(transmitter), self.ASKED, "on")
        return {meter.code: round(one.value, 1) for meter, one in found.items()}

    def learn(self, by: Person, transmitter: Transmitter) -> None:
        """A round of the new day makes the judge learn."""
        make_round(by, transmitter, {"v1_anode_current": "12.4"}, slot=self.ASKED - HOUR)
        assess(transmitter)

    def test_expected_at_its_own_point_alone(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        assert self.known(transmitter) == {"v1_anode_current": 12.4, "v2_anode_current": 13.6}
        make_state(shift, transmitter, observed_at=self.ASKED, power_kw=80.0, set_by="coupling")
        assert self.known(transmitter) == {}

    @pytest.mark.need(42)
    def test_another_power_of_the_tap_is_borrowed_by_its_law(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        """k = root of 80 / 200 = 0.632: 12.4 and 13.6 A become 7.84 and 8.60."""
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        make_state(shift, transmitter, observed_at=self.ASKED, power_kw=80.0)
        found = expected_values(LimitBook(transmitter), self.ASKED, "on")
        assert [one.value for one in found.values()] == pytest.approx([7.84, 8.60], abs=0.06)
        assert all(one.is_borrowed for one in found.values())
        page = signed_in(shift).get("/log/T1/round?slot=2026-03-23T08:00Z").content.decode()
        assert ", by another power" in page

    def test_day_that_is_judged_teaches_nothing(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        before = list(ChannelBaseline.objects.order_by("pk").values_list("centre", "readings"))
        make_round(shift, transmitter, {"v1_anode_current": "19.0"}, slot=self.ASKED)
        assess(transmitter)
        after = list(ChannelBaseline.objects.order_by("pk").values_list("centre", "readings"))
        assert after == before
        assert Judging.objects.get().learned_until is not None

    def test_readings_without_any_state_teach_nothing(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        for day in range(3):
            make_round(shift, transmitter, {"v1_anode_current": "12"}, slot=SLOT + day * DAY)
        assess(transmitter)
        assert not ChannelBaseline.objects.exists()
        assert Judging.objects.get().judged_no == 3

    @pytest.mark.case("C28")
    def test_tube_change_begins_anew(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        move = TubeDraft(Tube.objects.get(), None, meters[0].socket)
        record_tube_moves(
            transmitter.station, [move], observed_at=self.ASKED - 2 * HOUR, by=shift, at=self.ASKED
        )
        assert self.known(transmitter) == {"v2_anode_current": 13.6}

    def test_work_on_its_coil_set_begins_a_wave_anew(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        own = {"station": transmitter.station, "transmitter": transmitter}
        other, coils = (CoilSet.objects.create(**own, code=code) for code in ("2", "1"))
        transmitter.waves.update(coil_set=coils)
        worked = {"transmitter": transmitter, "observed_at": self.ASKED - 2 * HOUR}
        make_check(shift, "coil-work", {"coil_set": other.code, "done": "cleaned"}, **worked)
        assert self.known(transmitter) == {"v1_anode_current": 12.4, "v2_anode_current": 13.6}
        make_check(shift, "coil-work", {"coil_set": coils.code, "done": "cleaned"}, **worked)
        assert self.known(transmitter) == {}

    def test_work_on_its_antenna_begins_a_wave_anew(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        worked = {"observed_at": self.ASKED - 2 * HOUR}
        make_check(shift, "antenna-work", {"antenna": "A9", "done": "mast painted"}, **worked)
        assert set(self.known(transmitter)) == {"v1_anode_current", "v2_anode_current"}
        make_check(shift, "antenna-work", {"antenna": "A1", "done": "new feeder"}, **worked)
        assert self.known(transmitter) == {}

    @pytest.mark.need(9)
    def test_page_asks_and_offers(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        client = signed_in(shift)
        page = client.get("/log/T1/round?slot=2026-03-23T08:00Z").content.decode()
        assert "expected" in page
        typed = {"slot_day": "2026-03-23", "slot_clock": "08:00", "observed": "08:04"}
        typed |= {"kind": "routine", "modulation": "on", "action": "save"}
        typed |= {"cell-v1_anode_current": "1.24", "cell-v2_anode_current": "13.6"}
        saved = client.post("/log/T1/round", typed, follow=True).content.decode()
        assert "is the decimal point in its place?" in saved
        assert 'value="12.4"' in saved or "12.4" in saved

    @pytest.mark.case("C3")
    def test_columns_exchanged_are_one_question(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        typed = {"slot_day": "2026-03-23", "slot_clock": "08:00", "observed": "08:04"}
        typed |= {"kind": "routine", "modulation": "on", "action": "save"}
        typed |= {"cell-v1_anode_current": "13.6", "cell-v2_anode_current": "12.4"}
        saved = signed_in(shift).post("/log/T1/round", typed, follow=True).content.decode()
        assert "each fit the other&#x27;s place: exchanged?" in saved
