"""A backup: made while people write, restored into either engine, proved; or refused, with why."""

import gzip
import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from logbook import triggers
from logbook.backup.writing import write_backup
from logbook.ledger import head
from logbook.models import Entry, MeterChange, TubeMove
from logbook.services.remarks import record_remark
from logbook.services.tubes import TubeDraft, record_tube_moves
from station.models import Person, Socket, Station, Transmitter, Tube
from tests.make import SLOT, make_round
from tests.people import signed_in
from tests.postgres import throw_away

ROOT = Path(__file__).parents[2]
NOW = datetime(2026, 3, 2, tzinfo=UTC)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def log(furnished: Any, engineer: Person) -> Station:
    """A log with a state, a round, a tube's move and a remark."""
    station = engineer.station
    move = TubeDraft(Tube.objects.get(), None, Socket.objects.first())
    record_tube_moves(station, [move], observed_at=SLOT, by=engineer, at=SLOT)
    say(engineer, "quiet")
    return station


def say(by: Person, text: str) -> None:
    at = SLOT + timedelta(hours=2)
    record_remark(text, station=by.station, transmitter=None, observed_at=at, by=by, at=at)


@pytest.fixture
def file(log: Station, tmp_path: Path) -> Path:
    path = tmp_path / "log.backup"
    write_backup(path, at=NOW)
    return path


def empty() -> None:
    with triggers.lifted(connection):
        call_command("flush", interactive=False, verbosity=0)


def lines(path: Path) -> list[dict[str, Any]]:
    with gzip.open(path) as packed:
        return [json.loads(line) for line in packed]


def rows(path: Path) -> list[dict[str, Any]]:
    """Everything between the first line, which has the time, and the last."""
    return lines(path)[1:-1]


def refused(path: Path) -> str:
    """Why a restore was refused; nothing may have been written then."""
    empty()
    with pytest.raises(CommandError) as refusal:
        call_command("restore", str(path))
    assert not Station.objects.exists()
    return str(refusal.value)


class TestRestore:
    def test_everything_comes_back_under_its_own_key(self, file: Path, tmp_path: Path) -> None:
        empty()
        call_command("restore", str(file))
        write_backup(tmp_path / "again.backup", at=NOW)
        assert rows(tmp_path / "again.backup") == rows(file)

    def test_chain_is_proved_and_goes_on(self, file: Path, log: Station) -> None:
        before = head(log)
        empty()
        call_command("restore", str(file))
        station = Station.objects.get()
        assert head(station) == before
        engineer = Person.objects.get(username="engineer")
        say(engineer, "restored")
        make_round(engineer, Transmitter.objects.get(), {}, slot=SLOT + timedelta(hours=3))
        assert Entry.objects.count() == before.no + 2
        call_command("verify_log", "--expect", before.digest.hex())

    def test_people_sign_in_as_before(self, file: Path) -> None:
        empty()
        call_command("restore", str(file))
        engineer = Person.objects.get(username="engineer")
        assert signed_in(engineer).get("/log/").status_code == 200

    def test_database_that_is_not_empty_is_refused(self, file: Path) -> None:
        with pytest.raises(CommandError, match="This database is not empty"):
            call_command("restore", str(file))


class TestRefusals:
    def test_cut_file(self, file: Path) -> None:
        whole = lines(file)
        pack(file, whole[:-1])
        assert "was cut" in refused(file)

    def test_file_cut_within_its_packing(self, file: Path) -> None:
        file.write_bytes(file.read_bytes()[:-200])
        assert "is damaged" in refused(file)

    def test_no_backup(self, file: Path) -> None:
        file.write_text("observed_at,transmitter\n")
        assert "is damaged or no backup" in refused(file)

    def test_changed_row(self, file: Path) -> None:
        text = gzip.decompress(file.read_bytes()).replace(b"quiet", b"quite")
        file.write_bytes(gzip.compress(text))
        assert "its digest" in refused(file)

    def test_broken_log_inside_a_whole_file(self, log: Station, tmp_path: Path) -> None:
        with triggers.lifted(connection):
            Entry.objects.filter(no=1).update(name_as_written="Nobody")
        path = tmp_path / "broken.backup"
        write_backup(path, at=NOW)
        assert "entry 1 is not what was written" in refused(path)

    def test_file_of_a_later_release(self, file: Path) -> None:
        first, *rest = lines(file)
        first["migrations"]["logbook"] = "9999_of_next_year"
        pack(file, [first, *rest])
        assert "made by a later release (9999_of_next_year)" in refused(file)

    def test_other_format(self, file: Path) -> None:
        first, *rest = lines(file)
        pack(file, [{**first, "format": 2}, *rest])
        assert "its format is 2" in refused(file)


def pack(path: Path, kept: list[dict[str, Any]]) -> None:
    path.write_bytes(gzip.compress("".join(json.dumps(line) + "\n" for line in kept).encode()))


class TestBackup:
    def test_file_never_takes_the_place_of_another(self, file: Path) -> None:
        with pytest.raises(CommandError, match="is there already"):
            call_command("backup", str(file))

    def test_file_is_for_its_owner_alone(self, file: Path) -> None:
        assert file.stat().st_mode & 0o777 == 0o600

    def test_missing_folder_is_a_sentence(self, log: Station, tmp_path: Path) -> None:
        with pytest.raises(CommandError, match="cannot be written"):
            call_command("backup", str(tmp_path / "nowhere" / "log.backup"))

    @pytest.mark.only_on("postgresql")
    def test_what_is_written_meanwhile_is_saved_and_not_in_it(
        self, log: Station, tmp_path: Path
    ) -> None:
        before = head(log)
        path = tmp_path / "log.backup"
        write_backup(path, at=NOW, progress=write_meanwhile())
        assert head(log).no == before.no + 1
        assert lines(path)[0]["heads"][log.code]["no"] == before.no
        empty()
        call_command("restore", str(path))

    @pytest.mark.only_on("sqlite")
    def test_on_a_file_of_sqlite_a_writer_does_not_wait(self, file: Path, tmp_path: Path) -> None:
        folder = tmp_path / "data"
        manage(folder, "restore", str(file))
        program = (
            "import django; django.setup()\n"
            "from tests.logbook.test_backup import backup_meanwhile\n"
            f"backup_meanwhile({str(tmp_path / 'meanwhile.backup')!r})"
        )
        run(folder, [sys.executable, "-c", program])
        entries = {"file": 0, "database": 1}
        out = manage(folder, "verify_log", "--json")
        entries["database"] = json.loads(out)["stations"][0]["entries"]
        entries["file"] = next(iter(lines(tmp_path / "meanwhile.backup")[0]["heads"].values()))[
            "no"
        ]
        assert entries["database"] == entries["file"] + 1
        manage(tmp_path / "other", "restore", str(tmp_path / "meanwhile.backup"))


def write_meanwhile() -> Callable[[float], None]:
    """A progress that at its first call lets somebody else write a remark, and waits for it."""
    calls: list[float] = []

    def written_by_another() -> None:
        say(Person.objects.get(username="engineer"), "while the backup runs")
        connection.close()

    def progress(share: float) -> None:
        calls.append(share)
        if len(calls) == 1:
            other = threading.Thread(target=written_by_another)
            other.start()
            other.join(timeout=30)
            assert not other.is_alive()

    return progress


def backup_meanwhile(path: str) -> None:
    """For a process of its own with a database in a file."""
    write_backup(Path(path), at=NOW, progress=write_meanwhile())


def run(folder: Path, command: list[str], **environment: str) -> str:
    kept = {key: value for key, value in os.environ.items() if key != "DATABASE_URL"}
    folder.mkdir(exist_ok=True)
    settings = {"DATA_DIR": str(folder), "SECRET_KEY": "for-tests-alone", **environment}
    done = subprocess.run(
        command, cwd=ROOT, env={**kept, **settings}, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def manage(folder: Path, *arguments: str, **environment: str) -> str:
    return run(folder, [sys.executable, "manage.py", *arguments], **environment)


@pytest.fixture
def server() -> Iterator[str]:
    with throw_away() as url:
        yield url


class TestBetweenEngines:
    @pytest.mark.only_on("sqlite")
    def test_sqlite_to_postgresql_and_back_keeps_every_row_and_the_chain(
        self, file: Path, log: Station, server: str, tmp_path: Path
    ) -> None:
        digest = head(log).digest.hex()
        there, back = tmp_path / "there.backup", tmp_path / "back.backup"
        manage(tmp_path / "there", "restore", str(file), DATABASE_URL=server)
        manage(tmp_path / "there", "verify_log", "--expect", digest, DATABASE_URL=server)
        manage(tmp_path / "there", "backup", str(there), DATABASE_URL=server)
        manage(tmp_path / "back", "restore", str(there))
        manage(tmp_path / "back", "verify_log", "--expect", digest)
        manage(tmp_path / "back", "backup", str(back))
        assert rows(file) == rows(there) == rows(back)


class TestEarlierRelease:
    """Files that earlier releases made: each restores, migrates and is proved."""

    @pytest.mark.parametrize("path", sorted((ROOT / "tests" / "backups").glob("*.backup")))
    def test_backup_of_an_earlier_release_restores(self, path: Path) -> None:
        call_command("restore", str(path))
        [one] = lines(path)[0]["heads"].values()
        call_command("verify_log", "--expect", one["digest"])
        assert Entry.objects.count() == one["no"]

    def test_column_that_came_later_takes_its_default(self, file: Path) -> None:
        """As if the note of a tube's move had come with a later release."""
        whole = lines(file)
        place = next(n for n, one in enumerate(whole) if one.get("table") == "logbook_tubemove")
        gone = whole[place]["columns"].index("note")
        del whole[place]["columns"][gone]
        for row in whole[place + 1]["rows"]:
            del row[gone]
        empty()
        repacked(file, whole)
        call_command("restore", str(file))
        assert TubeMove.objects.get().note == ""
        assert not MeterChange.objects.exists()


def repacked(path: Path, whole: list[dict[str, Any]]) -> None:
    """With the digest of what it now says."""
    body = "".join(json.dumps(line) + "\n" for line in whole[:-1]).encode()
    closing = {**whole[-1], "sha256": sha256(body).hexdigest()}
    path.write_bytes(gzip.compress(body + json.dumps(closing).encode() + b"\n"))
