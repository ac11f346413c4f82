"""The state of a flag: the states of an alarm in IEC 62682 (from memory), one row a case."""

import pytest

from health.lifecycle import life_of


@pytest.mark.parametrize(
    ("is_standing", "verbs", "life"),
    [
        (True, [], "open"),
        (True, ["acknowledge"], "acknowledged"),
        (True, ["acknowledge", "close"], "acknowledged"),
        (False, [], "returned-open"),
        (False, ["acknowledge"], "returned"),
        (False, ["close"], "closed"),
        (False, ["acknowledge", "close"], "closed"),
    ],
)
@pytest.mark.need(30)
def test_state_of_a_flag(is_standing: bool, verbs: list[str], life: str) -> None:
    assert life_of(is_standing=is_standing, verbs=verbs) == life
