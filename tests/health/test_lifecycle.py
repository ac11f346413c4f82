"""The state of a flag: the states of an alarm in IEC 62682 (from memory), one row a case."""

import pytest

from health.lifecycle import NEEDS_A_PERSON, life_of

PLAIN = [
    (True, [], "open"),
    (True, ["acknowledge"], "acknowledged"),
    (True, ["acknowledge", "close"], "acknowledged"),
    (True, ["shelve", "unshelve"], "open"),
    (False, [], "returned-open"),
    (False, ["acknowledge"], "returned"),
    (False, ["shelve"], "returned-open"),
    (False, ["close"], "closed"),
    (False, ["acknowledge", "close"], "closed"),
]


@pytest.mark.parametrize(("is_standing", "verbs", "life"), PLAIN)
@pytest.mark.need(30)
def test_state_of_a_flag(is_standing: bool, verbs: list[str], life: str) -> None:
    assert life_of(is_standing=is_standing, verbs=verbs) == life


@pytest.mark.need(30)
@pytest.mark.parametrize(
    ("is_standing", "verbs", "life"),
    [
        (True, ["acknowledge"], "acknowledged"),
        (False, [], "latched"),
        (False, ["acknowledge"], "latched"),
        (False, ["reset"], "returned"),
        (False, ["acknowledge", "reset", "close"], "closed"),
    ],
)
def test_latched_kind_wants_a_reset(is_standing: bool, verbs: list[str], life: str) -> None:
    assert life_of(is_standing=is_standing, verbs=verbs, is_latched=True) == life


@pytest.mark.need(32, 33)
@pytest.mark.parametrize("aside", ["shelved", "out-of-service"])
def test_set_aside_has_its_own_word_while_it_stands(aside: str) -> None:
    assert life_of(is_standing=True, verbs=["acknowledge"], set_aside=aside) == aside
    assert life_of(is_standing=False, verbs=[], set_aside=aside) == "returned-open"


@pytest.mark.need(32)
def test_what_came_and_went_on_the_shelf_asks_nobody() -> None:
    assert life_of(is_standing=False, verbs=[], returned_aside=True) == "returned"


@pytest.mark.need(33)
def test_what_the_state_ended_did_not_return() -> None:
    ended = {"is_standing": False, "is_suppressed": True}
    assert life_of(verbs=[], **ended) == "suppressed"
    assert life_of(verbs=["acknowledge"], **ended) == "suppressed"
    assert life_of(verbs=["close"], **ended) == "closed"
    assert life_of(verbs=[], **ended, is_latched=True) == "latched"


@pytest.mark.need(15, 33)
def test_what_the_state_suppresses_now_asks_nobody_but_a_latched_kind() -> None:
    standing = {"is_standing": True, "is_suppressed": True}
    assert life_of(verbs=[], **standing) == "suppressed"
    assert life_of(verbs=["acknowledge"], **standing) == "suppressed"
    assert life_of(verbs=[], **standing, is_latched=True) == "latched"
    assert life_of(verbs=["reset"], **standing, is_latched=True) == "suppressed"
    assert life_of(verbs=[], **standing, set_aside="out-of-service") == "out-of-service"


def test_only_what_nobody_answered_needs_a_person() -> None:
    assert {"open", "returned-open", "latched"} == NEEDS_A_PERSON
