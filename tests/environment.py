"""The environment of every test run, set before the settings are read (pytest's ``-p``)."""

import os
from tempfile import TemporaryDirectory

FIXED = {
    "SECRET_KEY": "for-tests-alone",
    "DEBUG": "0",
    "DJANGO_SETTINGS_MODULE": "station.settings",
    "LOG_LEVEL": "ERROR",
    "JUDGE_BUDGET_MS": "20000",  # a busy machine must not change what a page shows
    "DJANGO_ALLOW_ASYNC_UNSAFE": "1",  # the browser's driver keeps an event loop in this thread
}

os.environ.update(FIXED)
if "DATA_DIR" not in os.environ:
    DATA_DIR = TemporaryDirectory(prefix="log-tests-", ignore_cleanup_errors=True)
    os.environ["DATA_DIR"] = DATA_DIR.name
