"""The sentence of every flag, in the trade's words."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine

from health.explanations import RULES, rule_text
from health.models import Episode
from health.rules import absolute, consistency, limits
from health.words import SAYS, flag_words
from logbook.times import minute_of
from station.models import Meter, Person, Transmitter
from tests.make import SLOT, make_round, make_state
from tests.people import signed_in

LIMIT = {"value": 13.4, "bound": "", "limit": 13.0, "limit_id": 1}
DEPARTURE = {"channel": "x on", "value": 13.4, "centre": 12.36, "sigma": 0.2, "far": 4.5}
SHIFT = {"channel": "x on", "shift": -3.14, "reach": 2.5}
BEYOND = {"channel": "x", "value": -2.6, "allowed": 1.72}
CARRIED = [
    {"channel": "x on", "share": 0.6, "mean": 1.2},
    {"channel": "y", "share": 0.2, "mean": 0},
]
TOGETHER = {"channel": "x on", "size": 65.0, "limit": 50.0, "carried": CARRIED}
EVIDENCE = {
    "pattern": TOGETHER,
    "low": LIMIT,
    "high": LIMIT,
    "departure": DEPARTURE,
    "shift": SHIFT,
    "beyond": BEYOND,
}
BY_EXPECTATION = ("departure", "shift")
OF_RELATIONS = [f"{relation}-{kind}" for relation in consistency.VALUES for kind in BY_EXPECTATION]
OF_ERRORS = [f"{relation}-beyond" for relation in absolute.TESTS]
RAISED = [
    *limits.RULES.values(),
    *BY_EXPECTATION,
    *OF_RELATIONS,
    *OF_ERRORS,
    "copied",
    "stuck",
    "pattern",
]
LONGEST = 200  # what the log has room for when somebody answers the flag

SENTENCES = [
    ("limit-low", {}, "V1 anode current 13.4 A: at or below the low alarm 13.0"),
    ("limit-high", {"value": None, "bound": ">"}, "V1 anode current > A: at or above the high"),
    (
        "departure",
        {},
        "V1 anode current 13.4 A: 5.2 sigma above its usual 12.4 A at this operating point",
    ),
    ("departure", {"value": 11.36}, "V1 anode current 11.4 A: 5.0 sigma below its usual 12.4 A"),
    (
        "shift",
        {},
        "V1 anode current: has moved to 3.1 sigma below its usual level in the last days",
    ),
    ("shift", {"shift": 2.6}, "V1 anode current: has moved to 2.6 sigma above its usual level"),
    ("pair-departure", {}, "Balance of V1 anode current and its pair 13.4 %: 5.2 sigma above"),
    ("pair-shift", {}, "Balance of V1 anode current and its pair: has moved to 3.1 sigma below"),
    ("ht-sum-departure", {}, "V1 anode current less the currents that it includes 13.4 A: 5.2"),
    ("reflection-departure", {}, "Reflected over forward power 13.40 %: 5.2 sigma above its"),
    ("apparent-departure", {}, "Apparent efficiency 13.4 %: 5.2 sigma above its usual 12.4 %"),
    ("with-driver-shift", {}, "Efficiency with the driver: has moved to 3.1 sigma below"),
    ("heat-departure", {}, "Flow times rise (V1 anode current) 13.4 % of usual: 5.2 sigma above"),
    ("feeder-departure", {}, "Square of the feeder current over output 13.4 % of usual: 5.2"),
    ("leakage-shift", {}, "V1 anode current over conductivity: has moved to 3.1 sigma below"),
    (
        "ht-sum-beyond",
        {},
        "V1 anode current less the currents that it includes -2.6 A: more than the 1.7 A that the",
    ),
    (
        "pair-beyond",
        {},
        "Balance of V1 anode current and its pair -2.6 %: more than the 1.7 % that",
    ),
    ("feeder-beyond", {}, "Power by V1 anode current against the output -2.6 %: more than the 1.7"),
    ("above-raw-shift", {}, "V1 anode current less the share of the raw water: has moved to 3.1"),
    ("copied", {}, "Rows of readings repeat more exactly than chance makes likely; consistent"),
    ("pattern", {}, "V1 anode current and 1 other: strange together, 1.3 times the limit"),
    ("pattern", {"carried": CARRIED[:1]}, "V1 anode current beside all the other meters: strange,"),
    ("stuck", {}, "V1 anode current: one value for longer than chance makes likely; consistent"),
]


def flagged(rule: str, **over: Any) -> Episode:
    meter = Meter(label="V1 anode current", unit="A", decimals=1)
    evidence = EVIDENCE.get(rule.rpartition("-")[2], {})
    return Episode(rule=rule, meter=meter, evidence={**evidence, **over})


class TestSentence:
    @pytest.mark.parametrize(("rule", "over", "begin"), SENTENCES)
    def test_rule_says_what_it_found_and_which_way(
        self, rule: str, over: dict[str, Any], begin: str
    ) -> None:
        assert flag_words(flagged(rule, **over)).startswith(begin)

    @pytest.mark.parametrize("rule", RAISED)
    def test_every_rule_has_a_sentence_and_a_text(self, rule: str) -> None:
        assert rule in SAYS
        assert rule in RULES
        assert 0 < len(flag_words(flagged(rule))) <= LONGEST

    @pytest.mark.parametrize("rule", ["", "tides", "moon-shift", "limit-"])
    def test_unknown_rule_is_named(self, rule: str) -> None:
        assert flag_words(flagged(rule)) == f"V1 anode current: flag of the rule {rule}"
        assert "does not know" in rule_text(rule).looks_at


@pytest.fixture
def _clock() -> Iterator[None]:
    with time_machine.travel(SLOT + timedelta(minutes=40), tick=False):
        yield


@pytest.mark.usefixtures("_clock")
@pytest.mark.parametrize("rule", [*RAISED, "tides"])
def test_every_page_that_shows_flags_shows_this_one(
    transmitter: Transmitter, meter: Meter, shift: Person, rule: str
) -> None:
    make_state(shift, transmitter, observed_at=SLOT - timedelta(days=3), state="on_air")
    saved = make_round(shift, transmitter, {"v1_anode_current": "12.4"})
    row = flagged(rule)
    row.station, row.transmitter, row.meter = transmitter.station, transmitter, meter
    row.first_no, row.since_minute, row.priority = saved.entry.no, minute_of(SLOT), "low"
    row.save()
    words = flag_words(row)
    pages = ["/hall", "/flags", f"/week/{SLOT:%Y-%m-%d}", "/record/T1", row.get_absolute_url()]
    for page in pages:
        answer = signed_in(shift).get(page)
        assert (page, answer.status_code) == (page, 200)
        assert words in answer.content.decode(), page
