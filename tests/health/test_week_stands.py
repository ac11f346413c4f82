"""How an item of the week's list stands by what was decided about it, worked by hand."""

from datetime import date
from typing import Any

import pytest

from health.boards.week_items import Cost, Item
from health.boards.week_stands import Stand, stand_of
from logbook.models import WeekDecision

TODAY = date(2026, 3, 4)

pytestmark = pytest.mark.need(51)


def item(**over: Any) -> Item:
    values = {"kind": "x", "level": "x", "code": "T1", "words": "x", "address": "/", "key": "x/1"}
    return Item(**{**values, "cost": Cost.EVIDENCE, **over})


def decided(decision: str = "watch", **over: Any) -> WeekDecision:
    return WeekDecision(decision=decision, **over)


def stand(one: Item, row: WeekDecision | None, today: date = TODAY) -> tuple[str, str]:
    return stand_of(one, row, today, None)


class TestStand:
    def test_nothing_decided_is_open(self) -> None:
        assert stand(item(), None) == (Stand.UNDECIDED, "")

    def test_watched_comes_back_on_its_day(self) -> None:
        row = decided(look_again=date(2026, 3, 16))
        assert stand(item(), row, date(2026, 3, 15)) == (Stand.DECIDED, "")
        assert stand(item(), row, date(2026, 3, 16)) == (Stand.BACK, "its day has come")

    @pytest.mark.parametrize("decision", ["plan-work", "re-read", "change-limit"])
    @pytest.mark.need(31)
    def test_what_is_to_be_done_is_carried(self, decision: str) -> None:
        assert stand(item(), decided(decision)) == (Stand.CARRIED, "")

    @pytest.mark.parametrize(
        ("then", "expected"),
        [
            (-20607.0, (Stand.DECIDED, "")),  # seven days sooner: from one review to the next
            (-20608.0, (Stand.BACK, "its limit comes 8 days sooner")),
            (-20590.0, (Stand.DECIDED, "")),  # later than then
            (None, (Stand.BACK, "it has a date for its limit now")),
        ],
    )
    def test_drift_comes_back_when_its_limit_is_nearer(
        self, then: float | None, expected: tuple[str, str]
    ) -> None:
        """Its limit is reached on day 20600 now, on the given day when it was decided."""
        drift = item(kind="drift", key="drift/T1/ht", measure=-20600.0, slack=7.0)
        assert stand(drift, decided(measure=then)) == expected

    def test_drift_whose_date_went_is_not_worse(self) -> None:
        drift = item(kind="drift", key="drift/T1/ht", measure=None, slack=7.0)
        assert stand(drift, decided(measure=-20600.0)) == (Stand.DECIDED, "")

    def test_more_of_a_count_comes_back(self) -> None:
        missed = item(measure=3.0)
        assert stand(missed, decided(measure=3.0)) == (Stand.DECIDED, "")
        assert stand(missed, decided(measure=2.0)) == (Stand.BACK, "1 more than then")

    def test_flag_of_higher_priority_comes_back(self) -> None:
        flag = item(key="flag/T1/a/limit-low/3", measure=3.0)
        assert stand(flag, decided(measure=2.0)) == (Stand.BACK, "its priority rose")
