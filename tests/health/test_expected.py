"""What a reading should be: learned run by run, once a day, causally, and asked on the page."""

from collections.abc import Iterator
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
import time_machine

from health.assess import assess
from health.models import Judging, MeterReference
from health.references import expected_values
from health.rules.expected import Reference, expected, references
from logbook.services.tubes import TubeDraft, record_tube_moves
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_meter, make_round, make_sockets, make_state, make_tube
from tests.people import signed_in

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
STEP = 0.02


def frame_of(runs: np.ndarray) -> pd.DataFrame:
    """One meter at one place: a row of ``runs`` for each run."""
    rows = [(1, 0, run, value) for run, values in enumerate(runs) for value in values]
    return pd.DataFrame(rows, columns=["meter_id", "place", "run", "value"])


class TestReferences:
    def made(self, between: float, within: float, count: int = 200) -> Reference:
        rng = np.random.default_rng(11)
        levels = rng.normal(12.4, between, (count, 1))
        return references(frame_of(levels + rng.normal(0, within, (count, 6))), {1: STEP})[1, 0]

    def test_two_scatters_are_told_apart(self) -> None:
        """Made with 0.12 between and 0.05 within: the level's own error adds 0.05 / root of 6."""
        found = self.made(0.12, 0.05)
        assert found.centre == pytest.approx(12.4, abs=0.02)
        assert found.within == pytest.approx(0.05, rel=0.1)
        assert found.between == pytest.approx((0.12**2 + 0.05**2 / 6) ** 0.5, rel=0.12)

    def test_slips_do_not_spoil_it(self) -> None:
        rng = np.random.default_rng(4)
        runs = rng.normal(12.4, 0.05, (20, 6))
        clean = references(frame_of(runs), {1: STEP})[1, 0]
        runs[3, 2], runs[7, 0] = 124.0, 1.24
        found = references(frame_of(runs), {1: STEP})[1, 0]
        assert found.centre == pytest.approx(clean.centre, abs=0.01)
        assert found.within == pytest.approx(clean.within, rel=0.1)

    @pytest.mark.case("C27")
    @pytest.mark.parametrize("shape", [(2, 10), (3, 2), (1, 40)])
    def test_too_little_is_no_reference_yet(self, shape: tuple[int, int]) -> None:
        assert references(frame_of(np.full(shape, 12.4)), {1: STEP}) == {}

    def test_equal_readings_have_half_a_step(self) -> None:
        found = references(frame_of(np.full((5, 5), 12.4)), {1: 0.2})[1, 0]
        assert (found.between, found.within) == pytest.approx((0.1, 0.1))

    def test_nothing_read_is_nothing_learned(self) -> None:
        assert references(frame_of(np.full((3, 4), np.nan)), {1: STEP}) == {}


@pytest.mark.need(88)
class TestExpected:
    REFERENCE = Reference(12.4, between=0.12, within=0.05, runs=20, readings=100)

    def test_first_of_a_run_is_judged_by_both(self) -> None:
        found = expected(self.REFERENCE, [])
        assert (found.value, found.sigma) == pytest.approx((12.4, 0.13))

    def test_later_ones_by_the_runs_own_level(self) -> None:
        """Share of the run's last three: 0.0144 / (0.0144 + 0.0025 / 3) = 0.945."""
        found = expected(self.REFERENCE, [12.6, 12.6, 12.7, 12.6])
        assert found.value == pytest.approx(12.4 + 0.9453 * 0.2, abs=1e-4)
        assert found.sigma == pytest.approx(0.0573, abs=1e-4)

    def test_missing_values_of_the_run_are_left_out(self) -> None:
        assert expected(self.REFERENCE, [np.nan]) == expected(self.REFERENCE, [])


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
        return (
            make_meter(transmitter, "v1_anode_current", stage=None),
            make_meter(transmitter, "v2_anode_current"),
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
        found = expected_values(transmitter, self.ASKED, "on")
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
        make_state(shift, transmitter, observed_at=self.ASKED, power_kw=80.0)
        assert self.known(transmitter) == {}

    def test_day_that_is_judged_teaches_nothing(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        before = list(MeterReference.objects.order_by("meter").values_list("centre", "readings"))
        make_round(shift, transmitter, {"v1_anode_current": "19.0"}, slot=self.ASKED)
        assess(transmitter)
        after = list(MeterReference.objects.order_by("meter").values_list("centre", "readings"))
        assert after == before
        assert Judging.objects.get().learned_until is not None

    def test_readings_without_any_state_teach_nothing(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        for day in range(3):
            make_round(shift, transmitter, {"v1_anode_current": "12"}, slot=SLOT + day * DAY)
        assess(transmitter)
        assert not MeterReference.objects.exists()
        assert Judging.objects.get().judged_no == 3

    @pytest.mark.case("C28")
    def test_tube_change_begins_anew(
        self, shift: Person, transmitter: Transmitter, meters: tuple[Meter, Meter]
    ) -> None:
        self.history(shift, transmitter)
        self.learn(shift, transmitter)
        tube = make_tube(transmitter, "A-1")
        socket = make_sockets(transmitter)[0]
        move = TubeDraft(tube, None, socket)
        record_tube_moves(
            transmitter.station, [move], observed_at=self.ASKED - 2 * HOUR, by=shift, at=self.ASKED
        )
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
