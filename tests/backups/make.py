"""A small backup with every kind of entry: ``python -m tests.backups.make FILE``.

One is made with each release and kept in this folder, so that later ones prove they restore it.
"""

import sys
from datetime import UTC, datetime
from pathlib import Path

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import time_machine  # noqa: E402
from django.db import connection  # noqa: E402
from django.test.utils import setup_test_environment  # noqa: E402

from logbook import port  # noqa: E402
from logbook.backup.writing import write_backup  # noqa: E402
from tests.every_kind import NOW, write_every_kind  # noqa: E402
from tests.make import make_station  # noqa: E402
from tests.people import make_person  # noqa: E402


def main() -> None:
    setup_test_environment()
    connection.creation.create_test_db(verbosity=0)
    try:
        with port.silent(), time_machine.travel(NOW, tick=False):
            write_log()
        write_backup(Path(sys.argv[1]), at=datetime.now(UTC))
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)


def write_log() -> None:
    station = make_station()
    shift, engineer = (make_person(role, role, station=station) for role in ("shift", "engineer"))
    write_every_kind(shift, engineer, station)


if __name__ == "__main__":
    main()
