"""What every test of the analysis stands on."""

from dataclasses import replace

import pytest

from logbook.models.round import Mark
from logbook.reading_text import TypedReading
from station.models import Meter
from tests import make


@pytest.fixture(autouse=True)
def _read_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    """What ``make_round`` writes was read twice: one round is enough for a flag."""
    once = make.typed_for

    def twice(meter: Meter, text: str) -> TypedReading:
        typed = once(meter, text)
        is_number = typed.value is not None and not typed.bound and not typed.mark
        return replace(typed, mark=Mark.CONFIRMED) if is_number else typed

    monkeypatch.setattr(make, "typed_for", twice)
