"""The engineer's review: the list by what it costs to ignore, decisions, and the signed week."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from health.boards.week_decisions import items_of
from health.boards.week_items import Cost
from health.boards.week_review import Line, Review, build_review
from health.boards.week_stands import Stand
from health.models import Drift, Episode
from logbook.bodies import plain_body
from logbook.frames import standing_points_of_all
from logbook.models import Signature, WeekDecision
from logbook.services.corrections import void_entry
from logbook.services.decisions import record_decisions
from station.models import Limit, Meter, Person, Station, Transmitter
from tests.make import make_limit, make_meter, make_round, make_state, make_transmitter
from tests.people import signed_in

MONDAY = datetime(2026, 3, 2, tzinfo=UTC)
HOUR, DAY, WEEK = timedelta(hours=1), timedelta(days=1), timedelta(days=7)
NOW = MONDAY + 2 * DAY
MISSED = "missed/T1/2026-03-02"

pytestmark = pytest.mark.need(51)


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def power(transmitter: Transmitter) -> Meter:
    meter = make_meter(
        transmitter, "forward_power", quantity="forward_power", unit="kW", full_scale=300
    )
    make_limit(meter, low_alarm=180, low_warning=188, high_warning=208, high_alarm=210)
    return meter


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, power: Meter) -> Transmitter:
    """On air on Monday from ten to noon, then off: two rounds are asked for."""
    return on_air(shift, transmitter)


@pytest.fixture
def low(plant: Transmitter, shift: Person) -> Episode:
    """Power of 100 kW at both rounds of Monday, under its alarm of 180: one flag that stands."""
    for hour in (10, 11):
        read(shift, plant, hour, "100")
    return Episode.objects.get()


def on_air(by: Person, transmitter: Transmitter) -> Transmitter:
    at = MONDAY + 10 * HOUR
    make_state(by, transmitter, observed_at=at, state="on_air", power_kw=200.0)
    make_state(by, transmitter, observed_at=at + 2 * HOUR, state="off")
    return transmitter


def read(by: Person, plant: Transmitter, hour: float, value: str) -> None:
    make_round(by, plant, {"forward_power": value}, slot=MONDAY + hour * HOUR)


def key_of(flag: Episode) -> str:
    return f"flag/T1/forward_power/limit-low/{flag.first_no}"


def review(station: Station, since: datetime = MONDAY, now: datetime = NOW) -> Review:
    return build_review(station, since, now)


def line_of(found: Review, key: str) -> Line:
    return next(line for line in found.lines if line.item.key == key)


def decide(by: Person, key: str, decision: str = "watch", **over: Any) -> WeekDecision:
    """In the week of the second of March, on its Wednesday."""
    facts = {"week": MONDAY.date(), "key": key, "words": "as shown", "decision": decision}
    return record_decisions([(None, {**facts, **over})], by=by, at=NOW)[0]


def page(person: Person, address: str = "/week/2026-03-02") -> str:
    return " ".join(signed_in(person).get(address).content.decode().split())


class TestRank:
    @pytest.fixture
    def drifts(self, transmitter: Transmitter, power: Meter) -> None:
        """Three that are told: with no date, in 90 days, in 20."""
        for channel, days in (("a", None), ("b", 90.0), ("c", 20.0)):
            facts = {"transmitter": transmitter, "meter": power, "channel": channel, "unit": "kW"}
            told = {"points": 12, "p": 0.001, "slope_per_1000h": 1.0, "limit": 210.0}
            Drift.objects.create(day=20500, days_low=days, days_high=days, **facts, **told)

    def test_dearest_to_ignore_is_first(
        self, plant: Transmitter, shift: Person, drifts: None
    ) -> None:
        """A high flag, a medium one, drifts by date, a missed round, a changed limit."""
        high, water = make_meter(plant, "ht"), make_meter(plant, "water")
        make_limit(high, priority="high")
        make_limit(water, valid_from=MONDAY + HOUR, reason="summer")
        values = {"forward_power": "201", "ht": "20", "water": "20"}
        make_round(shift, plant, values, slot=MONDAY + 11 * HOUR)
        found = [
            (line.item.cost, line.item.key.split("/")[0]) for line in review(plant.station).lines
        ]
        assert found == [
            (Cost.PROTECTION, "flag"),
            (Cost.AIR_TIME, "flag"),
            *[(Cost.SLOW_CHANGE, "drift")] * 3,
            (Cost.EVIDENCE, "missed"),
            (Cost.FORMALITY, "limit"),
        ]
        keys = [line.item.key for line in review(plant.station).lines]
        assert keys[0].startswith("flag/T1/ht/")
        assert keys[2:5] == ["drift/T1/c", "drift/T1/b", "drift/T1/a"]

    def test_drift_is_measured_by_the_day_of_its_limit(
        self, transmitter: Transmitter, drifts: None
    ) -> None:
        """As known at the end of day 20500, 20 days on: day 20521."""
        line = line_of(review(transmitter.station), "drift/T1/c")
        assert line.item.measure == -20521

    def test_every_item_has_a_key_of_its_own(self, low: Episode, drifts: None) -> None:
        station, one = low.transmitter.station, low.transmitter
        span = {"since": MONDAY, "until": NOW, "now": NOW}
        found = list(items_of(station, [one], standing_points_of_all([one], MONDAY), **span))
        assert len({one.key for one in found}) == len(found) == 4


class TestFlag:
    @pytest.mark.need(35)
    def test_standing_flag_is_open_until_it_is_decided(
        self, low: Episode, engineer: Person
    ) -> None:
        key = key_of(low)
        assert [line.item.key for line in review(engineer.station).to_decide] == [key]
        decide(engineer, key, measure=2.0)
        assert review(engineer.station).to_decide == []
        assert [line.item.key for line in review(engineer.station).decided] == [key]

    def test_later_decision_takes_its_place_and_a_struck_one_gives_it_back(
        self, low: Episode, engineer: Person
    ) -> None:
        key = key_of(low)
        decide(engineer, key, measure=2.0)
        work = decide(engineer, key, "plan-work", reason="fan by Friday", measure=2.0)
        assert line_of(review(engineer.station), key).stand == Stand.CARRIED
        void_entry(work.entry, reason="wrong set", by=engineer, at=NOW)
        assert line_of(review(engineer.station), key).stand == Stand.DECIDED

    @pytest.mark.need(31)
    def test_planned_work_is_carried_until_the_flag_is_gone(
        self, low: Episode, engineer: Person, shift: Person
    ) -> None:
        key, next_week = key_of(low), MONDAY + WEEK
        decide(engineer, key, "plan-work", reason="fan", measure=2.0)
        later = review(engineer.station, next_week, next_week + DAY)
        assert [(one.item.key, one.weeks) for one in later.carried] == [(key, 1)]
        Episode.objects.update(until_minute=low.since_minute + 8 * 24 * 60)
        over = review(engineer.station, next_week, next_week + 3 * DAY)
        assert (over.carried, [one.stand for one in over.decided]) == ([], [Stand.GONE])

    def test_undecided_flag_that_ended_went_by_itself(self, low: Episode, engineer: Person) -> None:
        Episode.objects.update(until_minute=low.since_minute + 8 * 24 * 60)
        next_week = MONDAY + WEEK
        found = review(engineer.station, next_week, next_week + 3 * DAY)
        assert [(one.item.key, one.decision) for one in found.gone] == [(key_of(low), None)]
        assert found.to_decide == []

    def test_flag_of_a_later_week_is_not_on_this_list(self, low: Episode, engineer: Person) -> None:
        assert review(engineer.station, MONDAY - WEEK, NOW).lines == ()

    def test_raised_again_it_comes_back_and_says_so(self, low: Episode, engineer: Person) -> None:
        """The same rule on the same meter, begun by another entry."""
        no = decide(engineer, key_of(low), measure=2.0).entry.no
        Episode.objects.update(first_no=low.first_no + 1)
        (line,) = review(engineer.station).to_decide
        assert line.stand == Stand.BACK
        assert line.why == f"raised again; of the flag before it entry {no} decided: watch"


class TestCarried:
    """Both rounds of Monday were missed, and nobody says why."""

    def test_undecided_item_of_last_week_is_told_with_its_age(self, plant: Transmitter) -> None:
        found = review(plant.station, MONDAY + 2 * WEEK, MONDAY + 2 * WEEK + DAY)
        assert [(one.item.key, one.weeks) for one in found.to_decide] == [(MISSED, 2)]

    def test_decided_it_is_not_told_again(self, plant: Transmitter, engineer: Person) -> None:
        decide(engineer, MISSED, measure=2.0)
        assert line_of(review(plant.station), MISSED).stand == Stand.DECIDED
        assert review(plant.station, MONDAY + WEEK, MONDAY + WEEK + DAY).lines == ()

    def test_weeks_that_nobody_signed_are_looked_through_for_four(self, plant: Transmitter) -> None:
        fourth, fifth = MONDAY + 4 * WEEK, MONDAY + 5 * WEEK
        assert len(review(plant.station, fourth, fourth + DAY).to_decide) == 1
        assert review(plant.station, fifth, fifth + DAY).lines == ()

    def test_what_a_signed_week_left_open_is_carried_on(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        sign(engineer, 1)
        ninth = MONDAY + 9 * WEEK
        found = review(plant.station, ninth, ninth + DAY)
        assert [(one.item.key, one.weeks) for one in found.to_decide] == [(MISSED, 9)]

    def test_what_was_left_open_and_is_no_more_went_by_itself(
        self, low: Episode, engineer: Person
    ) -> None:
        sign(engineer, 1)
        Episode.objects.all().delete()
        found = review(engineer.station, MONDAY + WEEK, MONDAY + WEEK + DAY)
        assert [one.item.key for one in found.gone] == [key_of(low)]
        (kept,) = Signature.objects.get().left_open
        assert found.gone[0].item.words == kept["words"]


def sign(engineer: Person, count: int) -> Any:
    return signed_in(engineer).post("/week/2026-03-02/sign", {"meant": f"left-open:{count}"})


class TestDecidePage:
    def post(self, by: Person, *keys: str, **form: str) -> Any:
        asked = urlencode([("key", key) for key in keys])
        return signed_in(by).post(f"/week/2026-03-02/decide?{asked}", form)

    def test_it_is_written_with_the_words_that_were_shown(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        answer = self.post(engineer, MISSED, decision="watch", look_again="2026-03-16")
        assert answer["Location"] == "/week/2026-03-02#decisions"
        row = WeekDecision.objects.get()
        assert (row.key, row.words) == (MISSED, "2 rounds missed on 2026-03-02")
        assert (row.week, row.look_again, row.measure) == (MONDAY.date(), date(2026, 3, 16), 2.0)
        assert (row.entry.transmitter, row.entry.by) == (plant, engineer)

    @pytest.mark.parametrize(
        ("form", "sentence"),
        [
            ({}, "Choose what is decided."),
            ({"decision": "sell"}, "Choose one of the four."),
            ({"decision": "plan-work"}, "Write what is to be done, and by when."),
            ({"decision": "change-limit"}, "Write why the limit is changed"),
            ({"decision": "watch", "look_again": "2026-03-04"}, "That day has come"),
            ({"decision": "watch", "look_again": "soon"}, "Write the day as year-month-day"),
        ],
    )
    def test_faults_stand_at_their_field_and_nothing_is_written(
        self, plant: Transmitter, engineer: Person, form: dict[str, str], sentence: str
    ) -> None:
        answer = self.post(engineer, MISSED, **form)
        assert sentence in answer.content.decode()
        assert 'class="problem"' in answer.content.decode()
        assert not WeekDecision.objects.exists()

    @pytest.mark.parametrize("role", ["shift", "viewer"])
    def test_only_the_engineer_decides(self, plant: Transmitter, role: str, request: Any) -> None:
        person = request.getfixturevalue(role)
        answer = self.post(person, MISSED, decision="watch")
        assert answer.status_code == 403
        assert "/decide" not in page(person)
        assert not WeekDecision.objects.exists()

    @pytest.mark.parametrize("day", ["2026-03-03", "never"])
    def test_of_no_monday_there_is_no_week(
        self, plant: Transmitter, engineer: Person, day: str
    ) -> None:
        client = signed_in(engineer)
        assert client.get(f"/week/{day}/decide?key={MISSED}").status_code == 404
        assert client.post(f"/week/{day}/sign").status_code == 404

    def test_changed_limit_leads_on_with_its_reason(
        self, low: Episode, engineer: Person, power: Meter
    ) -> None:
        answer = self.post(engineer, key_of(low), decision="change-limit", reason="new tube")
        text = page(engineer, answer["Location"])
        address = f"/admin/station/limit/{Limit.objects.get().pk}/change/?reason=new+tube"
        assert f'href="{address}"' in text
        assert 'value="new tube"' in page(engineer, address)
        added = f"/admin/station/limit/add/?meter={power.pk}&amp;reason=new+tube"
        assert f'href="{added}"' in text
        assert 'value="new tube"' in page(engineer, added.replace("&amp;", "&"))

    def test_lines_of_one_cost_are_decided_together(
        self, plant: Transmitter, engineer: Person, shift: Person
    ) -> None:
        """A missed round and a value to be re-read: each has its own entry, in one save."""
        read(shift, plant, 10, "abc")
        (group,) = review(plant.station).groups
        assert f"/week/2026-03-02/decide?{group.asked.replace('&', '&amp;')}" in page(engineer)
        keys = [line.item.key for line in group.lines]
        self.post(engineer, *keys, decision="watch")
        assert [row.key for row in WeekDecision.objects.order_by("entry__no")] == keys
        assert set(keys) == {MISSED, "to-re-read/T1/2026-03-02"}

    def test_key_of_nothing_on_the_list_is_not_found(
        self, plant: Transmitter, engineer: Person, stranger: Person
    ) -> None:
        for person, keys in ((stranger, [MISSED]), (engineer, [MISSED, "x"])):
            assert self.post(person, *keys, decision="watch").status_code == 404
        assert not WeekDecision.objects.exists()

    def test_asked_for_nothing_the_list_is_shown(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        assert self.post(engineer, decision="watch")["Location"] == "/week/2026-03-02"

    def test_list_shows_what_was_decided_and_by_whom(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        self.post(engineer, MISSED, decision="plan-work", reason="talk to the shift by Friday")
        text = page(engineer)
        assert "plan work, talk to the shift by Friday" in text
        assert engineer.written_name in text
        assert "carried" in text


class TestSigned:
    def test_with_nothing_open_it_signs_at_once(self, plant: Transmitter, engineer: Person) -> None:
        decide(engineer, MISSED, measure=2.0)
        signed_in(engineer).post("/week/2026-03-02/sign")
        row = Signature.objects.get()
        assert (row.scope, row.entry.transmitter, row.left_open) == ("week", None, [])
        assert row.up_to_no == WeekDecision.objects.get().entry.no

    def test_with_something_open_it_asks_and_never_refuses(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        answer = signed_in(engineer).post("/week/2026-03-02/sign")
        text = answer.content.decode()
        assert "1 item is not decided: sign the week with it open?" in text
        assert "2 rounds missed on 2026-03-02" in text
        assert not Signature.objects.exists()
        sign(engineer, 1)
        assert Signature.objects.get().left_open == [
            {
                "key": MISSED,
                "code": "T1",
                "words": "2 rounds missed on 2026-03-02",
                "since": "2026-03-02",
                "state": "open",
            }
        ]

    def test_answer_fits_the_number_that_was_shown(self, low: Episode, engineer: Person) -> None:
        """Signed with two open on the page, one is: it is asked anew."""
        sign(engineer, 2)
        assert not Signature.objects.exists()

    def test_signed_week_shows_what_was_open_then(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        sign(engineer, 1)
        decide(engineer, MISSED, measure=2.0)
        assert "Open when it was signed:" in page(engineer)
        no = Signature.objects.get().entry.no
        assert "1 item left open" in page(engineer, f"/log/entry/{no}")

    def test_decision_after_it_is_shown_as_such_and_can_be_signed(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        sign(engineer, 1)
        assert "after review" not in page(engineer)
        assert "Sign the week" not in page(engineer)
        decide(engineer, MISSED, measure=2.0)
        assert "after review" in page(engineer)
        assert "Sign the week" in page(engineer)
        signed_in(engineer).post("/week/2026-03-02/sign")
        assert "after review" not in page(engineer)

    def test_shift_does_not_sign(self, plant: Transmitter, shift: Person) -> None:
        assert signed_in(shift).post("/week/2026-03-02/sign").status_code == 403
        assert not Signature.objects.exists()

    @pytest.mark.need(54)
    def test_signature_that_left_nothing_to_say_says_what_it_always_did(
        self, plant: Transmitter, shift: Person
    ) -> None:
        signed_in(shift).post("/log/T1/day/2026-03-02/sign")
        body = plain_body(Signature.objects.get())
        assert list(body) == ["scope", "day", "up_to_no", "digest"]


@pytest.mark.need(54)
class TestKept:
    def test_entry_page_and_inspectors_copy_say_it_whole(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        row = decide(engineer, MISSED, "plan-work", reason="fan", look_again=date(2026, 3, 16))
        sentence = "as shown: plan work, fan; looked at again on 2026-03-16"
        assert sentence in page(engineer, f"/log/entry/{row.entry.no}")
        assert sentence in page(engineer, "/log/copy?since=2026-03-04&until=2026-03-04")

    def test_export_of_all_entries_has_it(self, plant: Transmitter, engineer: Person) -> None:
        decide(engineer, MISSED, "re-read")
        span = "since=2026-03-04&until=2026-03-04&table=entries&transmitter="
        answer = signed_in(engineer).get(f"/log/export?{span}")
        assert "as shown: re-read" in b"".join(answer).decode()


class TestQueries:
    def test_as_many_for_three_transmitters_as_for_twelve(
        self, plant: Transmitter, shift: Person, engineer: Person
    ) -> None:
        for number in range(2, 4):
            self.furnish(shift, engineer, number)
        three = self.count(plant.station)
        for number in range(4, 13):
            self.furnish(shift, engineer, number)
        assert self.count(plant.station) == three

    def furnish(self, shift: Person, engineer: Person, number: int) -> None:
        """One with a flag and a missed round that is decided."""
        other = make_transmitter(station=shift.station, code=f"T{number}")
        meter = make_meter(
            other, "forward_power", quantity="forward_power", unit="kW", full_scale=300
        )
        make_limit(meter, low_alarm=180, low_warning=188, high_warning=208, high_alarm=210)
        on_air(shift, other)
        read(shift, other, 11, "100")
        decide(engineer, f"missed/T{number}/2026-03-02", measure=1.0)

    def count(self, station: Station) -> int:
        with CaptureQueriesContext(connection) as captured:
            build_review(station, MONDAY, NOW)
        return len(captured)
