"""What every test shares: a database that can be reset, and the port answering at once."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.db import connection
from django.test import TransactionTestCase

# The analysis' own fixtures want its models.
OF_HEALTH = [] if settings.WITHOUT_HEALTH else ["tests.health.flag_plant"]
pytest_plugins = ["tests.make", "tests.people", *OF_HEALTH]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what only the other engine promises, counted as deselected, never as skipped."""
    left_out = [item for item in items if is_for_another_engine(item)]
    config.hook.pytest_deselected(items=left_out)
    items[:] = [item for item in items if item not in left_out]


def is_for_another_engine(item: pytest.Item) -> bool:
    mark = item.get_closest_marker("only_on")
    return mark is not None and mark.args != (connection.vendor,)


@pytest.fixture(autouse=True)
def _answer_at_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The port answers in the test's own transaction; `real_port` keeps its thread and budget."""
    if "real_port" not in request.keywords:
        monkeypatch.setattr("logbook.port.run_within_budget", answer_at_once)
        # A plain test's transaction never commits: what waits for a commit is done at once.
        monkeypatch.setattr("logbook.services.saving.on_commit", answer_at_once)


@pytest.fixture(autouse=True)
def _clock_is_not_watched(monkeypatch: pytest.MonkeyPatch) -> None:
    """A server that a test started watches the clock no longer when the test is over: the tests
    set the clock as they like.
    """
    monkeypatch.setattr("logbook.clock_watch.WATCH.offset", None)


@pytest.fixture
def clock(request: pytest.FixtureRequest) -> Iterator[time_machine.Traveller]:
    """The clock stands at the test file's ``NOW``."""
    with time_machine.travel(request.module.NOW, tick=False) as traveller:
        yield traveller


def answer_at_once(work: Callable[[], Any]) -> Any:
    return work()


@pytest.fixture(autouse=True, scope="session")
def _reset_lifts_triggers() -> Iterator[None]:
    """Between transactional tests the log's tables are emptied with their triggers lifted."""
    from logbook import triggers  # needs the apps, which are loaded after this file

    plain_teardown = TransactionTestCase._fixture_teardown

    def teardown(case: TransactionTestCase) -> None:
        with triggers.lifted(connection):
            plain_teardown(case)

    TransactionTestCase._fixture_teardown = teardown
    yield
    TransactionTestCase._fixture_teardown = plain_teardown


@pytest.fixture(autouse=True)
def _plain_static_files(settings: Any) -> None:
    """No manifest to collect first, and no slow password hashing."""
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
