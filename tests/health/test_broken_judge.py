"""What a broken judge left pending is judged once it works again."""

from typing import Any

import pytest

from health.assess import assess
from health.models import Episode, Judging
from station.models import Meter, Person, Transmitter
from tests.make import make_limit, make_round, make_state


def broken(*arguments: Any, **options: Any) -> None:
    raise RuntimeError("a broken rule")


@pytest.mark.real_port
@pytest.mark.django_db(transaction=True)
def test_pending_rounds_are_judged_later(
    monkeypatch: pytest.MonkeyPatch, engineer: Person, transmitter: Transmitter, meter: Meter
) -> None:
    make_limit(meter)
    with monkeypatch.context() as patched:
        patched.setattr("health.assess.judge", broken)
        make_state(engineer, transmitter)
        make_round(engineer, transmitter, {meter.code: "15"})
    assert not Episode.objects.exists()
    assess(transmitter)
    assert Judging.objects.get().judged_no == 2
    assert Episode.objects.get().rule == "limit-high"
