"""What every test shares: a database that can be reset, and the port answering at once."""

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import connection
from django.test import TransactionTestCase

os.environ.setdefault("SECRET_KEY", "for-tests-alone")


@pytest.fixture(autouse=True)
def _answer_at_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The port answers in the test's own transaction; `real_port` keeps its thread and budget."""
    if "real_port" not in request.keywords:
        monkeypatch.setattr("logbook.port.run_within_budget", answer_at_once)


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
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
