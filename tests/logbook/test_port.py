"""The log does not depend on the analysis: whatever happens behind the port, a round is saved."""

import sys
import time
from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest
from django.db import connection

from logbook import port
from logbook.models import Reading
from station.limits import LimitBook
from station.models import Meter, Person, Transmitter
from tests.make import make_round

pytestmark = [pytest.mark.real_port, pytest.mark.django_db(transaction=True)]

BUDGET_MS = 200
ANSWERED_WITHIN_S = 5  # far from the 30 s that the broken judge takes, on any machine


def raises(*arguments: Any) -> None:
    raise RuntimeError("a broken rule")


def sleeps(*arguments: Any) -> None:
    time.sleep(30)


def breaks_its_transaction(*arguments: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT nothing FROM nowhere")


def exits(*arguments: Any) -> None:
    raise SystemExit(3)


@pytest.fixture
def behind_the_port(monkeypatch: pytest.MonkeyPatch, settings: Any) -> Callable[[Any], None]:
    """Put a judge behind the port."""
    settings.JUDGE_BUDGET_MS = BUDGET_MS

    def put(judge: Any) -> None:
        module = ModuleType("broken_judge")
        for question in ("changed", "hints", "second_look", "remarks"):
            setattr(module, question, judge)
        monkeypatch.setitem(sys.modules, "broken_judge", module)
        monkeypatch.setattr("logbook.port._provider", "broken_judge")

    return put


@pytest.mark.parametrize("judge", [raises, sleeps, breaks_its_transaction, exits])
def test_round_is_saved_and_answered(
    judge: Any,
    behind_the_port: Any,
    engineer: Person,
    transmitter: Transmitter,
    meter: Meter,
) -> None:
    behind_the_port(judge)
    started = time.monotonic()
    make_round(engineer, transmitter, {meter.code: "12.4"})
    assert time.monotonic() - started < ANSWERED_WITHIN_S
    assert Reading.objects.get().value == 12.4


@pytest.mark.parametrize("judge", [raises, breaks_its_transaction])
def test_question_without_an_answer_is_none(
    judge: Any, behind_the_port: Any, transmitter: Transmitter, engineer: Person
) -> None:
    behind_the_port(judge)
    assert port.hints(LimitBook(transmitter), engineer.date_joined) is None


def test_judge_that_cannot_be_imported_loses_nothing(
    monkeypatch: pytest.MonkeyPatch, engineer: Person, transmitter: Transmitter, meter: Meter
) -> None:
    monkeypatch.setattr("logbook.port._provider", "no_such_module")
    make_round(engineer, transmitter, {meter.code: "12.4"})
    assert Reading.objects.get().value == 12.4
