"""Quiet notes: rows that look as if they had been copied, and meters that do not move."""

import numpy as np
import pytest

from health.rules.notes import copied_rows, stuck_meters
from health.rules.sheets import Sheets, joined
from tests.health.test_days import HOURS, MEMORY, METERS, TRUE, V1, day_of


@pytest.mark.case("C18")
class TestStuck:
    """Scatter 0.06, steps of 0.02: a meter that shows one value for days does not move."""

    DAYS = 4

    def window(self, held: float | None, days: int = DAYS) -> Sheets:
        rng = np.random.default_rng(5)
        parts = []
        for number in range(1, days + 1):
            by = {key: rng.normal(value, 0.06, HOURS).round(2) for key, value in TRUE.items()}
            by[V1] = by[V1] if held is None else np.full(HOURS, held)
            parts.append(day_of(number, by))
        return joined(parts)

    def test_meter_that_does_not_move_is_a_quiet_note(self) -> None:
        window = self.window(12.4)
        changed, standing = stuck_meters(MEMORY, window, METERS, [])
        assert changed == standing
        (note,) = standing
        assert (note.rule, note.meter_id, note.priority) == ("stuck", V1, "low")
        assert note.evidence["rounds"] == self.DAYS * HOURS
        assert (note.since, note.first_no) == (window.minute[-1], window.no[-1])

    def test_it_ends_when_the_meter_moves(self) -> None:
        _changed, standing = stuck_meters(MEMORY, self.window(12.4), METERS, [])
        moving = joined([self.window(12.4), day_of(self.DAYS + 1, {V1: [12.42] * HOURS})])
        (ended,), still = stuck_meters(MEMORY, moving, METERS, standing)
        assert still == []
        assert ended.until == day_of(self.DAYS + 1).minute[0]

    def test_it_stands_while_the_meter_does_not_move(self) -> None:
        _changed, standing = stuck_meters(MEMORY, self.window(12.4), METERS, [])
        again = stuck_meters(MEMORY, self.window(12.4, days=5), METERS, standing)
        assert again == ([], standing)

    def test_meters_that_move_are_none(self) -> None:
        assert stuck_meters(MEMORY, self.window(None), METERS, []) == ([], [])


class TestNotes:
    """Readings scatter by more than a step: six rows that are the same were hardly read."""

    def rows(self, *, same: int) -> Sheets:
        rng = np.random.default_rng(8)
        by = {key: rng.normal(value, 0.06, HOURS).round(2) for key, value in TRUE.items()}
        for values in by.values():
            values[HOURS - same :] = values[HOURS - same]
        return day_of(1, by)

    @pytest.mark.need(79)
    @pytest.mark.case("C7")
    def test_rows_that_are_all_the_same_are_a_quiet_note(self) -> None:
        sheets = self.rows(same=HOURS)
        (note,) = copied_rows(MEMORY, sheets, METERS)
        assert (note.rule, note.priority, note.evidence["rounds"]) == ("copied", "low", HOURS)
        assert (note.since, note.until) == (sheets.minute[0], sheets.minute[-1])

    @pytest.mark.parametrize("same", [1, 2])
    def test_rows_that_were_read_are_none(self, same: int) -> None:
        assert copied_rows(MEMORY, self.rows(same=same), METERS) == []
