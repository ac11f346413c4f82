"""The demo command: an empty database becomes the invented station, another is left alone."""

import re
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from typing import Any

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.test import Client

from fixtures.generator import history
from health.pending import pending_entries
from logbook.models import Correction, Entry, Kind, Reading, Round
from station.models import Person, Station, Transmitter
from tests.make import make_station

NOW = datetime(2026, 3, 2, 12, 20, tzinfo=UTC)
LAST_HOUR = datetime(2026, 3, 2, 12, tzinfo=UTC)
SIGN_IN = re.compile(r"^  (\w+) +(\w+) +(\S+)$", re.MULTILINE)

pytestmark = pytest.mark.django_db(transaction=True)


def demo(*options: str) -> str:
    out = StringIO()
    with time_machine.travel(NOW, tick=False):
        call_command("demo", "--no-serve", *options, stdout=out)
    return out.getvalue()


class TestEmptyDatabase:
    @pytest.fixture
    def said(self) -> str:
        return demo("--days", "3")

    def test_history_ends_at_the_last_full_hour(self, said: str) -> None:
        last = Entry.objects.order_by("-no")[0].entered_at
        assert LAST_HOUR - timedelta(hours=1) < last <= LAST_HOUR

    def test_history_begins_three_days_before(self, said: str) -> None:
        assert Entry.objects.get(no=1).observed_at == datetime(2026, 2, 27, tzinfo=UTC)

    def test_every_transmitter_has_rounds(self, said: str) -> None:
        codes = Round.objects.values_list("entry__transmitter__code", flat=True).distinct()
        assert set(codes) == {"T1", "T3", "M1"}

    def test_log_is_proved(self, said: str) -> None:
        call_command("verify_log", stdout=StringIO())

    def test_nothing_waits_for_its_judgement(self, said: str) -> None:
        assert not pending_entries(Transmitter.objects.all()).exists()

    def test_each_role_signs_in_with_what_was_printed(self, said: str) -> None:
        found = {role: (name, password) for role, name, password in SIGN_IN.findall(said)}
        assert set(found) == {"shift", "engineer", "planner", "viewer"}
        for role, (name, password) in found.items():
            answer = Client().post("/sign-in", {"username": name, "password": password})
            assert (role, answer.status_code) == (role, 302)

    def test_only_the_engineer_enters_the_admin(self, said: str) -> None:
        assert [one.username for one in Person.objects.filter(is_staff=True)] == ["tauber"]

    def test_second_run_leaves_everything_alone(self, said: str) -> None:
        digests = list(Entry.objects.values_list("digest", flat=True))
        assert "left alone" in demo("--days", "5")
        assert list(Entry.objects.values_list("digest", flat=True)) == digests


@pytest.mark.parametrize("seed", [1, 2])
def test_seed_names_the_history(seed: int) -> None:
    """One day before 12:20 of 2 March begins on 1 March; two UTC days are made."""
    demo("--days", "1", "--seed", str(seed))
    made = history(seed, date(2026, 3, 1), 2)
    first = Reading.objects.filter(meter__code="ht_hours", meter__transmitter__code="T3")
    assert first.order_by("minute")[0].value == made.readings["T3"]["ht_hours"].iloc[0]


class TestRefusals:
    def test_database_with_another_station_is_refused(self) -> None:
        make_station(name="Elsewhere")
        with pytest.raises(CommandError, match="holds the station Elsewhere") as refusal:
            demo("--days", "1")
        assert refusal.value.returncode == 1
        assert not Entry.objects.exists()

    @pytest.mark.parametrize("option", ["--days=0", "--days=x", "--years=-1", "--port=70000"])
    def test_bad_number_is_refused(self, option: str) -> None:
        with pytest.raises(CommandError, match="write a"):
            demo(option)

    def test_days_and_years_together_are_refused(self) -> None:
        with pytest.raises(CommandError, match="not allowed with"):
            demo("--days=3", "--years=1")


def test_failed_load_leaves_no_half_history(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*args: Any, **options: Any) -> None:
        raise RuntimeError("judging broke")

    monkeypatch.setattr("health.management.commands.demo.assess", fail)
    with pytest.raises(RuntimeError):
        demo("--days", "1")
    assert not Entry.objects.exists()
    assert not Person.objects.exists()


def test_after_a_failed_load_the_next_run_loads(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr("health.management.commands.demo.assess", None)
        with pytest.raises(TypeError):
            demo("--days", "1")
    demo("--days", "1")
    assert Station.objects.count() == 1
    assert Entry.objects.filter(kind=Kind.ROUND).exists()
    assert Correction.objects.count() <= 5
