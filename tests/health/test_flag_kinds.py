"""Low water, notes, flags of a trip, and the states in the hand-over, the week and the lists."""

from datetime import timedelta

import pytest
import time_machine

from health.advice import advice_for
from health.boards.flags import build_flags
from health.boards.trips import trips_of
from health.boards.week import build_week
from health.boards.week_items import Cost
from health.models import Episode
from health.words import SAYS
from logbook.handover_board import as_text, assemble
from station.models import Meter, Person, Transmitter
from tests.health.flag_plant import HOUR, MINUTE, NOW, SHELF, address, lines, page, post, read
from tests.make import SLOT, make_interruption, make_limit, make_meter, make_state


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
        assert "Flag: latched, to be inspected and reset: flow 40.0 L/min" in text
        assert "Flag: acknowledged: v2 anode current 15.0 A" in text
        assert "Flag: shelved" not in text
        shelf = "until 2026-03-02 10:40 UTC, by Shift Moor: compared at noon"
        assert f"high alarm 14.0; {shelf}" in text
        week = page(engineer, "/week/2026-03-02")
        assert f"high alarm 14.0; {shelf}" in week
        for words in ("shelved", "acknowledged", "open", "latched, to be inspected and reset"):
            assert f"<span>{words}</span>" in week
        first = build_week(plant.station, SLOT - 6 * HOUR, NOW).review.lines[0].item
        assert (first.cost, first.level, first.meter) == (Cost.PROTECTION, "open", level)

    @pytest.mark.need(31, 49)
    def test_closed_flag_is_not_handed_over(self, plant: Transmitter, shift: Person) -> None:
        read(shift, plant, "15", SLOT - HOUR)
        episode = read(shift, plant, "12.4")
        assert "Flag: returned, not acknowledged" in as_text(assemble(plant.station, NOW))
        post(shift, episode, {"verb": "close", "comment": "mains dip"})
        assert "Flag:" not in as_text(assemble(plant.station, NOW))

    @pytest.mark.need(31, 49)
    def test_hand_over_keeps_high_priority_and_drops_what_just_returned(
        self, plant: Transmitter, flow: Meter, shift: Person
    ) -> None:
        """Both returned three weeks before the hand-over, and nobody answered."""
        read(shift, plant, "", SLOT - HOUR, flow="40", v1_anode_current="15")
        read(shift, plant, "", flow="60", v1_anode_current="12.4")
        with time_machine.travel(NOW + timedelta(days=21), tick=False):
            text = as_text(assemble(plant.station, NOW + timedelta(days=21)))
        assert "Flag: latched, to be inspected and reset: flow 40.0 L/min" in text
        assert "v1 anode current" not in text

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
