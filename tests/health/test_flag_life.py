"""The whole life of a flag on its page and in the lists: every state, by whom, and to when."""

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
import time_machine

from health.advice import advice_for
from health.assess import assess
from health.boards.flag_lines import FlagLine
from health.boards.flags import build_flags
from health.boards.trips import trips_of
from health.models import Episode
from health.words import SAYS
from logbook.handover_board import as_text, assemble
from logbook.models import FlagAction
from logbook.services.flags import FlagDraft, record_flag_action
from station.models import Meter, Person, Station, Transmitter
from tests.make import SLOT, make_interruption, make_limit, make_meter, make_round, make_state
from tests.people import make_people, signed_in

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
NOW = SLOT + 40 * MINUTE
SHELF = {"verb": "shelve", "end": "4", "why": "compared at noon"}
ORDER = {"verb": "out", "order_number": "4711", "work": "shunt changed"}
ON_AIR = {"state": "on_air", "frequency_khz": 6105.0, "power_kw": 200.0, "set_by": "tap"}


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, meter: Meter, clock: object) -> Transmitter:
    make_limit(meter)
    make_state(shift, transmitter, observed_at=SLOT - timedelta(days=3), state="on_air")
    return transmitter


@pytest.fixture
def flow(plant: Transmitter) -> Meter:
    made = make_meter(plant, "flow", quantity="water_flow", unit="L/min", full_scale=100)
    make_limit(made, low_alarm=50, low_warning=55, high_warning=None, high_alarm=None)
    made.limits.update(priority="high")
    return made


@pytest.fixture
def level(plant: Transmitter) -> Meter:
    """Of low priority, as a register might have it."""
    made = make_meter(plant, "level", quantity="water_level", unit="mm", full_scale=200)
    make_limit(made, low_alarm=90, low_warning=100, high_warning=None, high_alarm=None)
    made.limits.update(priority="low")
    return made


def read(by: Person, plant: Transmitter, value: str, slot: datetime = SLOT, **over: str) -> Episode:
    make_round(by, plant, over or {"v1_anode_current": value}, slot=slot)
    return Episode.objects.order_by("since_minute", "pk").last()


def address(episode: Episode) -> str:
    return f"/flags/T1/{episode.meter.code}/{episode.rule}/{episode.first_no}"


def lines(station: Station, now: datetime = NOW, section: str = "") -> list[FlagLine]:
    groups = build_flags(station, now, section).groups
    return [line for group in groups for line in group.lines]


def lives(station: Station, now: datetime = NOW) -> list[str]:
    return [str(line.life) for line in lines(station, now)]


def page(person: Person, where: str) -> str:
    return " ".join(signed_in(person).get(where).content.decode().split())


def post(person: Person, episode: Episode, form: dict[str, str]) -> str:
    answer = signed_in(person).post(address(episode), form, follow=True)
    return " ".join(answer.content.decode().split())


@pytest.mark.need(32)
class TestShelf:
    def test_shelved_flag_says_to_when_by_whom_and_why(
        self, plant: Transmitter, shift: Person
    ) -> None:
        episode = read(shift, plant, "15")
        post(shift, episode, SHELF)
        words = "shelved until 2026-03-02 10:40 UTC, by Shift Moor: compared at noon"
        assert [line.state for line in lines(plant.station)] == [words]
        for where in (address(episode), "/flags?show=shelved", "/hall"):
            assert words in page(shift, where)

    def test_it_is_open_again_when_the_shelf_ends(
        self, plant: Transmitter, shift: Person, clock: time_machine.Traveller
    ) -> None:
        """Acknowledged before it was shelved: somebody has to look at it again all the same."""
        episode = read(shift, plant, "15")
        post(shift, episode, {"verb": "acknowledge"})
        post(shift, episode, SHELF)
        assert lives(plant.station, NOW + 4 * HOUR - MINUTE) == ["shelved"]
        assert lives(plant.station, NOW + 4 * HOUR) == ["open"]
        clock.move_to(NOW + 5 * HOUR)
        post(shift, episode, {"verb": "acknowledge"})
        assert lives(plant.station, NOW + 5 * HOUR) == ["acknowledged"]

    def test_flag_raised_meanwhile_is_shelved_and_asks_nobody_when_it_is_gone(
        self, plant: Transmitter, shift: Person, clock: time_machine.Traveller
    ) -> None:
        post(shift, read(shift, plant, "15"), SHELF)
        read(shift, plant, "12.4", SLOT + HOUR)
        read(shift, plant, "15", SLOT + 2 * HOUR)
        assert lives(plant.station, NOW + 2 * HOUR) == ["returned", "shelved"]
        read(shift, plant, "12.4", SLOT + 3 * HOUR)
        assert lives(plant.station, NOW + 3 * HOUR) == ["returned", "returned"]

    def test_other_rule_of_the_meter_is_open(self, plant: Transmitter, shift: Person) -> None:
        post(shift, read(shift, plant, "15"), SHELF)
        read(shift, plant, "9.8", SLOT + HOUR)
        assert "open" in lives(plant.station, NOW + HOUR)

    def test_reason_and_end_are_asked_for(self, plant: Transmitter, shift: Person) -> None:
        episode = read(shift, plant, "15")
        assert "Say why it can wait" in post(shift, episode, {**SHELF, "why": ""})
        assert "Choose when it comes back." in post(shift, episode, {**SHELF, "end": ""})
        assert "Select a valid choice" in post(shift, episode, {**SHELF, "end": "9"})
        assert not FlagAction.objects.exists()

    def test_shelved_twice_is_told(self, plant: Transmitter, shift: Person) -> None:
        episode = read(shift, plant, "15")
        post(shift, episode, SHELF)
        assert "there is nothing to shelve" in post(shift, episode, SHELF)

    def test_taken_off_the_shelf_it_is_open(
        self, plant: Transmitter, shift: Person, viewer: Person
    ) -> None:
        post(shift, read(shift, plant, "15"), SHELF)
        number = {"aside": str(FlagAction.objects.get().entry.no)}
        assert signed_in(viewer).post("/flags", number).status_code == 403
        assert signed_in(shift).post("/flags", {"aside": "x"}).status_code == 404
        assert signed_in(shift).post("/flags", number).status_code == 302
        assert lives(plant.station) == ["open"]

    @pytest.mark.need(66)
    def test_low_water_is_never_shelved_and_the_page_says_why(
        self, plant: Transmitter, level: Meter, shift: Person
    ) -> None:
        episode = read(shift, plant, "", level="80")
        assert "Low water is never shelved" in page(shift, address(episode))
        assert "Put it on the shelf</button>" not in page(shift, address(episode))
        assert "Low water is never shelved" in post(shift, episode, SHELF)
        draft = FlagDraft("limit-low", level, episode.first_no, "shelve", "written by other means")
        record_flag_action(draft, by=shift, at=NOW)
        assert lives(plant.station) == ["open"]

    @pytest.mark.need(38)
    def test_flag_of_a_trip_is_never_shelved(self, plant: Transmitter, shift: Person) -> None:
        make_interruption(shift, plant, begin=SLOT + 3 * MINUTE)
        episode = read(shift, plant, "15")
        assert "A flag of a trip is never shelved" in post(shift, episode, SHELF)
        assert lives(plant.station) == ["open"]


@pytest.mark.need(33)
class TestOutOfService:
    @pytest.mark.parametrize(
        ("name", "status"), [("engineer", 302), ("planner", 302), ("shift", 403), ("viewer", 403)]
    )
    def test_engineer_or_planner_may(
        self, plant: Transmitter, shift: Person, name: str, status: int
    ) -> None:
        episode = read(shift, plant, "15")
        shift.username = "writer"
        shift.save(update_fields=["username"])
        client = signed_in(make_people(plant.station)[name])
        assert client.post(address(episode), ORDER).status_code == status
        assert lives(plant.station) == ["out-of-service" if status == 302 else "open"]

    @pytest.mark.parametrize(
        ("verb", "status"), [("acknowledge", 403), ("shelve", 403), ("reset", 403)]
    )
    def test_planner_answers_no_flag(
        self, plant: Transmitter, shift: Person, planner: Person, verb: str, status: int
    ) -> None:
        episode = read(shift, plant, "15")
        assert signed_in(planner).post(address(episode), {"verb": verb}).status_code == status

    def test_every_flag_of_the_meter_says_the_order(
        self, plant: Transmitter, shift: Person, engineer: Person
    ) -> None:
        episode = read(shift, plant, "15")
        post(engineer, episode, ORDER)
        read(shift, plant, "9.8", SLOT + HOUR)
        standing = [line for line in lines(plant.station, NOW + HOUR) if line.is_standing]
        assert [line.state for line in standing] == [
            "out of service order 4711, since 2026-03-02 06:40 UTC, by Engineer Moor: shunt changed"
        ]

    def test_number_and_work_are_asked_for(
        self, plant: Transmitter, shift: Person, engineer: Person
    ) -> None:
        episode = read(shift, plant, "15")
        assert "This field is required" in post(engineer, episode, {**ORDER, "order_number": ""})
        assert "Say what is done" in post(engineer, episode, {**ORDER, "work": ""})

    def test_back_in_service_it_is_open(
        self, plant: Transmitter, shift: Person, engineer: Person, planner: Person
    ) -> None:
        post(engineer, read(shift, plant, "15"), ORDER)
        number = {"aside": str(FlagAction.objects.get().entry.no)}
        assert signed_in(shift).post("/flags", number).status_code == 403
        assert signed_in(planner).post("/flags", number).status_code == 302
        assert lives(plant.station) == ["open"]

    @pytest.mark.need(66)
    def test_low_water_stays_open(
        self, plant: Transmitter, level: Meter, shift: Person, engineer: Person
    ) -> None:
        post(engineer, read(shift, plant, "", level="80"), ORDER)
        assert lives(plant.station) == ["open"]


@pytest.mark.need(30)
class TestLatched:
    def returned(self, by: Person, plant: Transmitter) -> Episode:
        read(by, plant, "", SLOT - HOUR, flow="40")
        return read(by, plant, "", flow="60")

    def test_low_flow_wants_an_inspection_after_its_return(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        episode = self.returned(shift, plant)
        assert lives(plant.station) == ["latched"]
        assert "returned, to be inspected and reset" in page(shift, "/hall")
        closing = post(shift, episode, {"verb": "close", "comment": "strainer"})
        assert "It is closed after its reset" in closing
        assert "What did the inspection find?" in post(shift, episode, {"verb": "reset"})
        assert not FlagAction.objects.exists()

    @pytest.mark.need(31)
    def test_reset_then_closed_with_its_cause(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        episode = self.returned(shift, plant)
        post(shift, episode, {"verb": "reset", "comment": "strainer cleaned"})
        assert lives(plant.station) == ["returned"]
        assert "What was the cause?" in post(shift, episode, {"verb": "close"})
        post(shift, episode, {"verb": "close", "comment": "leaves in the strainer"})
        assert lives(plant.station) == []

    @pytest.mark.need(31)
    def test_high_priority_stays_listed_until_it_has_its_cause(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        self.returned(shift, plant)
        assert lives(plant.station, NOW + timedelta(days=20)) == ["latched"]

    def test_reset_before_the_return_is_answered_with_a_sentence(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        episode = read(shift, plant, "", flow="40")
        answer = post(shift, episode, {"verb": "reset", "comment": "looked"})
        assert "There is nothing to reset" in answer

    def test_flow_of_middle_priority_just_returns(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        flow.limits.update(priority="medium")
        self.returned(shift, plant)
        assert lives(plant.station) == ["returned-open"]


@pytest.mark.need(33)
class TestSuppressed:
    @pytest.fixture
    def ended(self, plant: Transmitter, shift: Person) -> Episode:
        read(shift, plant, "15", SLOT - 2 * HOUR)
        make_state(shift, plant, observed_at=SLOT - HOUR, state="standby")
        return read(shift, plant, "0")

    def test_what_the_state_ended_is_not_returned(
        self, plant: Transmitter, shift: Person, ended: Episode
    ) -> None:
        assert lives(plant.station) == ["suppressed"]
        assert "suppressed by state" in page(shift, address(ended))
        post(shift, ended, {"verb": "close", "comment": "tuned anew"})
        assert lives(plant.station) == []

    def test_rebuild_says_the_same(self, plant: Transmitter, ended: Episode) -> None:
        before = list(Episode.objects.values("first_no", "until_minute", "evidence"))
        assess(plant, rebuild=True)
        assert list(Episode.objects.values("first_no", "until_minute", "evidence")) == before

    def test_state_that_is_written_late_turns_suppressed_into_returned_and_back(
        self, plant: Transmitter, shift: Person, ended: Episode
    ) -> None:
        """The state at the second reading decides, and the flag began on the day before."""
        make_state(shift, plant, observed_at=SLOT - 30 * MINUTE, at=NOW, **ON_AIR)
        make_round(shift, plant, {"v1_anode_current": "12.4"}, slot=SLOT + HOUR)
        incremental = list(Episode.objects.values("rule", "until_minute", "evidence"))
        assert lives(plant.station, NOW + HOUR).count("suppressed") == 0
        assess(plant, rebuild=True)
        assert list(Episode.objects.values("rule", "until_minute", "evidence")) == incremental

    def test_flag_of_the_day_before_takes_and_loses_the_mark(
        self, plant: Transmitter, shift: Person
    ) -> None:
        read(shift, plant, "15", SLOT - 20 * HOUR)
        read(shift, plant, "12.4")
        assert lives(plant.station) == ["returned-open"]
        make_state(shift, plant, observed_at=SLOT - HOUR, at=NOW, state="standby")
        assert lives(plant.station) == ["suppressed"]
        make_state(shift, plant, observed_at=SLOT - HOUR + MINUTE, at=NOW, **ON_AIR)
        assert lives(plant.station) == ["returned-open"]


@pytest.mark.need(66)
class TestLowWater:
    def test_high_priority_first_of_all_whatever_the_register_gives(
        self, plant: Transmitter, level: Meter, flow: Meter, shift: Person
    ) -> None:
        read(shift, plant, "", SLOT - HOUR, flow="40", v1_anode_current="15")
        read(shift, plant, "", level="80")
        found = lines(plant.station)
        assert [line.episode.meter.code for line in found[:2]] == ["level", "flow"]
        assert found[0].priority == "high"

    def test_first_line_is_ht_off(self, plant: Transmitter, level: Meter, shift: Person) -> None:
        episode = read(shift, plant, "", level="80")
        assert "<strong>HT off; do not investigate first.</strong>" in page(shift, address(episode))

    def test_without_ht_the_register_decides(
        self, plant: Transmitter, level: Meter, shift: Person
    ) -> None:
        make_state(shift, plant, observed_at=SLOT - HOUR, state="off")
        assert read(shift, plant, "", level="80").priority == "low"

    @pytest.mark.parametrize("state", ["no_drive", "test_load", "reduced", "recycling"])
    def test_any_state_with_ht(
        self, plant: Transmitter, level: Meter, shift: Person, state: str
    ) -> None:
        make_state(shift, plant, observed_at=SLOT - HOUR, state=state)
        assert read(shift, plant, "", level="80").priority == "high"


@pytest.mark.need(29)
class TestAdvice:
    def test_limit_without_advice_raises_a_note(
        self, plant: Transmitter, shift: Person, meter: Meter
    ) -> None:
        meter.limits.update(advice="", priority="high")
        episode = read(shift, plant, "15")
        assert episode.priority == "note"
        assert "this is a note, not an alarm" in page(shift, address(episode))

    def test_page_says_what_to_do_what_follows_and_how_long_there_is(
        self, plant: Transmitter, shift: Person
    ) -> None:
        text = page(shift, address(read(shift, plant, "15")))
        for words in ("<strong>Read again.</strong>", "The anode overheats", "this round"):
            assert words in text

    @pytest.mark.parametrize(
        ("allowed_min", "words"), [(10, "10 minutes"), (0, "none: at once"), (None, "this round")]
    )
    def test_register_says_what_follows_and_how_long_there_is(
        self,
        plant: Transmitter,
        shift: Person,
        meter: Meter,
        allowed_min: int | None,
        words: str,
    ) -> None:
        meter.limits.update(consequence="The screen goes.", allowed_min=allowed_min)
        text = page(shift, address(read(shift, plant, "15")))
        assert "<dd>The screen goes.</dd>" in text
        assert f"<dt>Time allowed</dt><dd>{words}</dd>" in text

    @pytest.mark.parametrize("rule", sorted(set(SAYS) - {"limit-low", "limit-high"}))
    def test_every_rule_by_expectation_says_what_to_do(
        self, plant: Transmitter, meter: Meter, rule: str
    ) -> None:
        episode = Episode(transmitter=plant, meter=meter, rule=rule, priority="low")
        advice = advice_for(episode, None)
        assert len(advice.to_do[0]) > 20
        assert advice.to_do[0] != "The register does not say."
        assert advice.time == "this shift"


@pytest.mark.need(37, 38)
class TestTrip:
    @pytest.fixture
    def episode(self, plant: Transmitter, shift: Person) -> Episode:
        seen = {"first_indicator": "overcurrent V1", "indicators": "overcurrent V1, HT off"}
        facts = {"recycles": 3, "is_locked_out": True, "cause": "tube"}
        make_interruption(shift, plant, begin=SLOT + 3 * MINUTE, **seen, **facts)
        return read(shift, plant, "15")

    def test_flag_of_the_next_minute_hangs_under_it(
        self, plant: Transmitter, shift: Person, episode: Episode
    ) -> None:
        (line,) = lines(plant.station)
        assert line.trip.interruption.first_indicator == "overcurrent V1"
        assert "hangs under the trip:" in page(shift, "/flags")

    def test_page_shows_what_was_first(self, shift: Person, episode: Episode) -> None:
        text = page(shift, address(episode))
        for words in ("<dd>overcurrent V1</dd>", "<dd>overcurrent V1, HT off</dd>", "<dd>3</dd>"):
            assert words in text
        assert "<dt>Locked out</dt><dd>yes</dd>" in text

    def test_state_alone_says_that_nothing_was_written(
        self, plant: Transmitter, shift: Person, level: Meter
    ) -> None:
        make_state(shift, plant, observed_at=SLOT + 2 * MINUTE, state="tripped")
        episode = read(shift, plant, "", level="80")
        assert "which indicator came first is not known" in page(shift, address(episode))

    def test_state_and_interruption_are_one_trip(
        self, plant: Transmitter, shift: Person, episode: Episode
    ) -> None:
        make_state(shift, plant, observed_at=SLOT + 5 * MINUTE, state="tripped")
        make_state(shift, plant, observed_at=SLOT + 9 * MINUTE, state="tripped")
        trips = trips_of(plant.station, SLOT)[plant.pk]
        assert [trip.interruption is not None for trip in trips] == [True, False]

    @pytest.mark.parametrize(("begin", "is_hung"), [(1, False), (2, True), (4, True), (5, False)])
    def test_two_minutes_and_no_more(
        self, plant: Transmitter, shift: Person, begin: int, is_hung: bool
    ) -> None:
        """The round is read four minutes past its slot."""
        make_interruption(shift, plant, begin=SLOT + begin * MINUTE)
        read(shift, plant, "15")
        assert (lines(plant.station)[0].trip is not None) is is_hung

    def test_planned_work_and_less_power_are_no_trip(
        self, plant: Transmitter, shift: Person
    ) -> None:
        for facts in ({"cause": "work"}, {"power_kw": 80.0}, {"agreed_end": NOW}):
            make_interruption(shift, plant, begin=SLOT + 3 * MINUTE, **facts)
        read(shift, plant, "15")
        assert lines(plant.station)[0].trip is None


class TestEverywhere:
    @pytest.mark.need(30, 49)
    def test_hand_over_and_week_say_each_state_in_its_own_words(
        self, plant: Transmitter, level: Meter, flow: Meter, shift: Person, engineer: Person
    ) -> None:
        """Flow: latched. Anode current: shelved. Level: open. V2: acknowledged."""
        make_limit(make_meter(plant, "v2_anode_current"))
        read(shift, plant, "", SLOT - HOUR, flow="40")
        values = {"flow": "60", "level": "80", "v1_anode_current": "15", "v2_anode_current": "15"}
        read(shift, plant, "", **values)
        of_meter = {one.meter.code: one for one in Episode.objects.select_related("meter")}
        post(shift, of_meter["v1_anode_current"], SHELF)
        post(shift, of_meter["v2_anode_current"], {"verb": "acknowledge"})
        text = as_text(assemble(plant.station, NOW))
        assert "Flag: open: level 80.0 mm" in text
        assert "Flag: returned, to be inspected and reset: flow 40.0 L/min" in text
        assert "Flag: acknowledged: v2 anode current 15.0 A" in text
        assert "Flag: shelved" not in text
        shelf = "until 2026-03-02 10:40 UTC, by Shift Moor: compared at noon"
        assert f"high alarm 14.0; {shelf}" in text
        week = page(engineer, "/week/2026-03-02")
        assert f"high alarm 14.0; {shelf}" in week
        for words in ("<span>shelved</span>", "<span>acknowledged</span>", "<span>open</span>"):
            assert words in week

    @pytest.mark.need(31, 49)
    def test_closed_flag_is_not_handed_over(self, plant: Transmitter, shift: Person) -> None:
        read(shift, plant, "15", SLOT - HOUR)
        episode = read(shift, plant, "12.4")
        assert "Flag: returned, not acknowledged" in as_text(assemble(plant.station, NOW))
        post(shift, episode, {"verb": "close", "comment": "mains dip"})
        assert "Flag:" not in as_text(assemble(plant.station, NOW))

    def test_list_can_be_narrowed_to_a_state(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        read(shift, plant, "", flow="40", v1_anode_current="15")
        post(shift, Episode.objects.get(meter=flow), {"verb": "acknowledge", "comment": "pump"})
        board = build_flags(plant.station, NOW, "acknowledged")
        counts = {section.name: section.count for section in board.sections}
        assert (counts["needs"], counts["acknowledged"], counts["shelved"]) == (1, 1, 0)
        assert [line.episode.meter for line in lines(plant.station, section="acknowledged")] == [
            flow
        ]
        assert "No flag is in this state." in page(shift, "/flags?show=shelved")
        assert len(lines(plant.station, section="nonsense")) == 2
