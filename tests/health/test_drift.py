"""Drifts of a transmitter: from the memory, begun anew by an event, in JSON and on the pages."""

import json
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core.management import call_command
from django.test import Client

from health.boards.week import build_week
from health.drift import drifts_of, drifts_of_meter, store_drifts
from health.drift_words import drift_words, limit_words, signed
from health.models import ChannelBaseline, ChannelDay, Drift
from health.rules.memory import COLUMNS
from health.statistics.drift import Grain
from logbook import port
from logbook.services.meters import MeterDraft, record_meter_change
from logbook.services.tubes import TubeDraft, record_tube_moves
from station.limits import LimitBook
from station.models import Instrument, Meter, Person, Transmitter
from tests.make import (
    make_limit,
    make_meter,
    make_round,
    make_sockets,
    make_state,
    make_station,
    make_transmitter,
    make_tube,
)
from tests.people import signed_in

MONDAY = datetime(2026, 3, 2, tzinfo=UTC)
DAY = timedelta(days=1)
FIRST = 20514
"""The number of that Monday from 1970: 56 years of 365 days, 14 leap days, 31 + 28 + 1 days."""
CODE = "v1_anode_current"
RISE = 0.01
PER_1000H = 0.41667
"""A hundredth a day of 24 h."""


@pytest.fixture
def _clock() -> Iterator[None]:
    with time_machine.travel(MONDAY + 70 * DAY, tick=False):
        yield


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter, meter: Meter) -> Transmitter:
    """On the air since a month before Monday; alarm limits 10.8 and 14.0 A."""
    make_limit(meter)
    make_state(engineer, transmitter, observed_at=MONDAY - 30 * DAY)
    return transmitter


def remember(
    plant: Transmitter, offsets: Sequence[float], first: int = 0, channel: str = CODE
) -> None:
    """What the judge keeps of days from Monday on, with a baseline of 12 A."""
    rest = dict.fromkeys(COLUMNS, 0.0)
    own = {"transmitter": plant, "channel": channel}
    ChannelDay.objects.bulk_create(
        ChannelDay(**own, **{**rest, "offset": offset}, day=FIRST + first + number, run=1)
        for number, offset in enumerate(offsets)
    )
    ChannelBaseline.objects.create(
        **own,
        day=FIRST + first,
        place="6105 A1 200 tap",
        centre=12.0,
        between=0.1,
        within=0.1,
        runs=8,
        readings=40,
        is_last=True,
    )


def rising(days: int) -> list[float]:
    return [RISE * day for day in range(days)]


def at_day(number: float) -> datetime:
    return MONDAY + number * DAY


def drifts(plant: Transmitter, day: float = 70) -> list[Drift]:
    return drifts_of(LimitBook(plant), at_day(day))


def of_meter(meter: Meter, day: float = 70) -> list[Drift]:
    meter = Meter.objects.select_related("transmitter__station").get(pk=meter.pk)
    return drifts_of_meter(LimitBook(meter.transmitter), meter, at_day(day))


class TestDriftsOf:
    @pytest.mark.need(67)
    def test_rise_with_its_date(self, plant: Transmitter) -> None:
        """From 12 A up by 0.01 A a day: 14 A after 200 days, 130 days from the 70th."""
        remember(plant, rising(70))
        (found,) = drifts(plant)
        assert (found.meter.code, found.channel, found.unit) == (CODE, CODE, "A")
        assert found.slope_per_1000h == pytest.approx(PER_1000H, abs=1e-5)
        assert (found.low, found.high) == pytest.approx((PER_1000H, PER_1000H), abs=1e-5)
        assert (found.days_low, found.days_high) == pytest.approx((130.0, 130.0))
        assert (found.limit, found.points, found.since) == (14.0, 10, None)

    def test_eight_weeks_are_judged_by_the_week(self, plant: Transmitter, meter: Meter) -> None:
        """From a Monday on: eight weeks are whole on day 56; on day 48 the seventh is."""
        remember(plant, rising(56))
        (weeks,), (fewer,) = of_meter(meter, day=56), of_meter(meter, day=48)
        assert (weeks.days, weeks.points, weeks.grain) == (56, 8, Grain.WEEK)
        assert (fewer.days, fewer.points, fewer.grain) == (49, 49, Grain.DAY)
        assert weeks.slope_per_1000h == pytest.approx(PER_1000H, abs=1e-5)

    def test_day_without_an_offset_does_not_count(self, plant: Transmitter, meter: Meter) -> None:
        remember(plant, rising(8))
        ChannelDay.objects.filter(day=FIRST + 3).update(offset=None)
        assert [one.is_known for one in of_meter(meter)] == [False]

    def test_fall_comes_to_the_low_alarm(self, plant: Transmitter) -> None:
        """From 12 A down by 0.01 A a day: 10.8 A after 120 days."""
        remember(plant, [-one for one in rising(70)])
        (found,) = drifts(plant)
        assert (found.limit, found.days_high) == (10.8, pytest.approx(50.0))

    def test_hours_off_the_air_do_not_count(self, plant: Transmitter, engineer: Person) -> None:
        """12 h on each day, so the slope by hours is twice as steep."""
        for day in range(70):
            off, on = at_day(day), at_day(day + 0.5)
            make_state(engineer, plant, observed_at=off, state="off")
            make_state(engineer, plant, observed_at=on, state="on_air")
        remember(plant, rising(70))
        assert drifts(plant)[0].slope_per_1000h == pytest.approx(2 * PER_1000H, abs=1e-5)

    def test_level_is_no_drift(self, plant: Transmitter, meter: Meter) -> None:
        remember(plant, [0.1, -0.1] * 35)
        assert drifts(plant) == []
        assert not of_meter(meter)[0].is_told

    def test_few_days_are_not_enough_data(self, plant: Transmitter, meter: Meter) -> None:
        remember(plant, rising(7))
        assert [one.is_known for one in of_meter(meter)] == [False]

    def test_nothing_remembered_is_not_enough_data(self, plant: Transmitter, meter: Meter) -> None:
        assert [one.is_known for one in of_meter(meter)] == [False]
        assert drifts(plant) == []

    def test_later_days_are_not_known_yet(self, plant: Transmitter) -> None:
        remember(plant, rising(70))
        assert drifts(plant, day=6) == []
        assert drifts(plant, day=20)[0].points == 21

    def test_no_limit_no_date(self, plant: Transmitter, meter: Meter) -> None:
        meter.limits.all().delete()
        remember(plant, rising(70))
        (found,) = drifts(plant)
        assert (found.limit, found.days_low, found.days_high) == (None, None, None)
        assert limit_words(found) == "no alarm limit on that side"

    def test_dial_drifts_too(self, plant: Transmitter) -> None:
        """The crew restores the power, and the dial goes instead."""
        make_meter(plant, "tune", quantity="dial", unit="", decimals=0)
        remember(plant, rising(70), channel="tune")
        assert [found.meter.code for found in drifts(plant)] == ["tune"]

    def test_day_that_ends_is_seen_at_once(self, plant: Transmitter) -> None:
        """What was found is kept no longer than it holds."""
        remember(plant, rising(60))
        assert drifts(plant)[0].days == 60
        ChannelBaseline.objects.all().delete()
        remember(plant, rising(70)[60:], first=60)
        assert drifts(plant)[0].days == 70

    def test_state_told_later_is_seen_at_once(self, plant: Transmitter, engineer: Person) -> None:
        remember(plant, rising(70))
        before = drifts(plant)[0].slope_per_1000h
        with port.silent():
            make_state(engineer, plant, observed_at=at_day(40), state="off", at=at_day(70))
        assert drifts(plant)[0].slope_per_1000h > before * 1.1

    def test_only_full_power_is_held_against_the_limit(self, plant: Transmitter) -> None:
        remember(plant, rising(70))
        low = ChannelBaseline.objects.get()
        low.pk, low.place, low.centre = None, "6105 A1 80 tap", 13.9
        low.save()
        assert drifts(plant)[0].days_low == pytest.approx(130.0)


class TestBegunAnew:
    """Sixty days of a steep rise, an event, then what came after it."""

    @pytest.fixture
    def tubes(self, plant: Transmitter, meter: Meter, engineer: Person) -> tuple:
        tube, spare = make_tube(plant, "S1"), make_tube(plant, "S2")
        sockets = make_sockets(plant)
        Meter.objects.filter(pk=meter.pk).update(socket=sockets[0], stage=sockets[0].stage)
        drafts = [TubeDraft(tube, None, sockets[0])]
        self.move(plant, drafts, at_day(-20), engineer)
        return tube, spare, sockets

    def move(self, plant: Transmitter, drafts: list[TubeDraft], at: datetime, by: Person) -> None:
        with port.silent():
            record_tube_moves(plant.station, drafts, observed_at=at, by=by, at=at_day(80))

    @pytest.mark.case("C19")
    def test_tube_moved_restarts_at_its_true_instant(
        self, plant: Transmitter, meter: Meter, tubes: tuple, engineer: Person
    ) -> None:
        """Told twenty days later; the level that follows is not set against the rise before."""
        tube, _spare, (first, second) = tubes
        self.move(plant, [TubeDraft(tube, first, second)], at_day(60), engineer)
        remember(plant, [10 * one for one in rising(60)] + [0.02, 0.0] * 10)
        (one,) = of_meter(meter, day=80)
        assert (one.points, one.since) == (20, FIRST + 60)
        assert not one.is_told

    def test_too_soon_after_the_tube_is_not_enough_data(
        self, plant: Transmitter, meter: Meter, tubes: tuple, engineer: Person
    ) -> None:
        tube, spare, (first, _second) = tubes
        out = TubeDraft(tube, first, None, "scrapped", "weak")
        self.move(plant, [out, TubeDraft(spare, None, first)], at_day(60), engineer)
        remember(plant, rising(67))
        assert [one.is_known for one in of_meter(meter, day=67)] == [False]

    @pytest.mark.case("C20")
    def test_instrument_changed_restarts(
        self, plant: Transmitter, meter: Meter, engineer: Person
    ) -> None:
        """20 A to 50 A: what the coarser one reads is not set against the rise before."""
        new = Instrument.objects.get(meter=meter)
        new.pk, new.valid_from, new.full_scale, new.step = None, at_day(60), 50.0, 0.5
        with port.silent():
            draft = MeterDraft(meter, at_day(60), new, old_last=12.6, new_first=12.5)
            record_meter_change(draft, by=engineer, at=at_day(60))
        remember(plant, rising(60) + [0.48, 0.5, 0.49, 0.51, 0.5] * 4)
        (one,) = of_meter(meter, day=80)
        assert (one.points, one.since) == (20, FIRST + 60)
        assert drifts(plant, day=80) == []


class TestJson:
    def test_keys_and_numbers(
        self, plant: Transmitter, engineer: Person, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """As of the newest reading, ten minutes before the 71st day."""
        at = at_day(70) - timedelta(minutes=10)
        with port.silent():
            make_round(engineer, plant, {CODE: "12.7"}, slot=at, observed_at=at)
        call_command("assess")
        remember(plant, rising(70))
        call_command("assess", "--json")
        (found,) = json.loads(capsys.readouterr().out)["drifts"]
        assert (found["transmitter"], found["meter"], found["channel"]) == ("T1", CODE, CODE)
        assert found["slope_per_1000h"] == pytest.approx(PER_1000H, abs=1e-3)
        assert (found["limit"], found["days_low"]) == (14.0, pytest.approx(130.0, abs=0.01))
        assert {"low", "high", "days_high"} < found.keys()


@pytest.mark.usefixtures("_clock")
class TestPages:
    WORDS = (
        "v1 anode current: +0.42 A per 1000 h (+0.42 to +0.42); "
        "comes to the alarm limit 14.0 A in 130 to 130 days"
    )

    @pytest.fixture
    def page(self, plant: Transmitter, engineer: Person) -> Client:
        return signed_in(engineer)

    def test_week_lists_it_and_leads_to_the_history(self, plant: Transmitter) -> None:
        remember(plant, rising(70))
        store_drifts(LimitBook(plant), at_day(70))
        board = build_week(plant.station, MONDAY + 63 * DAY, MONDAY + 70 * DAY)
        (one,) = [line.item for line in board.review.lines if line.item.kind == "drift"]
        assert (one.code, one.words) == ("T1", self.WORDS)
        assert one.address == "/history/T1/v1_anode_current"

    def test_history_reads_what_was_stored_when_the_day_had_ended(
        self, plant: Transmitter, meter: Meter
    ) -> None:
        remember(plant, rising(70))
        store_drifts(LimitBook(plant), at_day(70))
        ChannelDay.objects.all().delete()
        (stored,) = of_meter(meter)
        assert (stored.points, stored.slope_per_1000h) == (10, pytest.approx(PER_1000H, abs=1e-5))
        assert [one.is_known for one in of_meter(meter, day=69)] == [False]

    def test_other_stations_drifts_are_not_shown(self, plant: Transmitter) -> None:
        remember(plant, rising(70))
        store_drifts(LimitBook(plant), at_day(70))
        other = make_transmitter(station=make_station(code="fen", name="Fen"))
        board = build_week(other.station, MONDAY + 63 * DAY, MONDAY + 70 * DAY)
        assert "drift" not in [line.item.kind for line in board.review.lines]

    def test_history_shows_it_with_its_evidence(self, plant: Transmitter, page: Client) -> None:
        remember(plant, rising(70))
        text = page.get(f"/history/T1/{CODE}").content.decode()
        assert "+0.42 A per 1000 h (+0.42 to +0.42)" in text
        assert "10 points, each the mean of a week (70 days with a run)" in text

    def test_history_says_not_enough_data(self, plant: Transmitter, page: Client) -> None:
        remember(plant, rising(7))
        assert "not enough data" in page.get(f"/history/T1/{CODE}").content.decode()

    def test_history_says_no_drift(self, plant: Transmitter, page: Client) -> None:
        remember(plant, [0.1, -0.1] * 35)
        text = page.get(f"/history/T1/{CODE}").content.decode()
        assert "no drift that can be told from none" in text


class TestWords:
    @pytest.mark.parametrize(
        ("value", "text"),
        [
            (0.416, "+0.42"),
            (-0.0123, "-0.012"),
            (2.04, "+2.0"),
            (123.4, "+123"),
            (0.0, "0"),
            (0.0996, "+0.100"),
        ],
    )
    def test_slope_has_two_figures(self, value: float, text: str) -> None:
        assert signed(value) == text

    def test_no_reliable_date_is_said(self, plant: Transmitter) -> None:
        """Told from none by the median slope; one wild day takes the date away."""
        offsets = rising(20)
        offsets[9] = 40.0
        remember(plant, offsets)
        (found,) = drifts(plant, day=20)
        assert found.days_low is None
        assert drift_words(found).endswith("alarm limit 14.0 A: no reliable date")
