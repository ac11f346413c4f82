"""The secret of a first start, and the server's refusals."""

import os
import socket
import stat
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from station.environment import SECRET_FILE, make_secret, read_secret
from station.first_run import setup_code
from station.management.commands import serve

MANAGE = Path(__file__).parents[2] / "manage.py"


@pytest.fixture
def data_dir(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("DATA_DIR", str(tmp_path / "data"))
    monkeypatch.delenv("SECRET_KEY", raising=False)
    return tmp_path / "data"


def manage(*words: str) -> subprocess.CompletedProcess[str]:
    """A command where nothing but DATA_DIR is set."""
    known = {"PATH": os.environ["PATH"], "DATA_DIR": os.environ["DATA_DIR"]}
    return subprocess.run(
        [sys.executable, str(MANAGE), *words], env=known, capture_output=True, text=True
    )


class TestSecret:
    def test_made_secret_is_long_and_its_owners_alone(self, data_dir: Path) -> None:
        make_secret()
        assert len(read_secret("SECRET_KEY")) >= 50
        assert stat.S_IMODE((data_dir / SECRET_FILE).stat().st_mode) == 0o600

    def test_second_start_keeps_it(self, data_dir: Path) -> None:
        make_secret()
        first = read_secret("SECRET_KEY")
        make_secret()
        assert read_secret("SECRET_KEY") == first

    def test_environment_wins(self, data_dir: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        make_secret()
        monkeypatch.setenv("SECRET_KEY", "from-the-environment")
        assert read_secret("SECRET_KEY") == "from-the-environment"

    def test_none_is_none(self, data_dir: Path) -> None:
        assert read_secret("SECRET_KEY") == ""

    def test_other_command_without_a_secret_is_refused(self, data_dir: Path) -> None:
        answer = manage("check")
        assert answer.returncode == 1
        assert "SECRET_KEY is not set" in answer.stderr

    def test_command_after_the_first_start_finds_it(self, data_dir: Path) -> None:
        make_secret()
        assert manage("check").returncode == 0


class TestServe:
    def test_port_in_use_is_told(self, settings: Any, db: None) -> None:
        settings.DEBUG = True
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            taken.listen()
            port = taken.getsockname()[1]
            with pytest.raises(CommandError, match=f"Cannot listen on 127.0.0.1 port {port}"):
                call_command("serve", f"--port={port}")

    @pytest.mark.parametrize("port", ["0", "65536", "http", "-1"])
    def test_bad_port_is_refused(self, port: str) -> None:
        with pytest.raises(CommandError, match="write a port from 1 to 65535"):
            call_command("serve", f"--port={port}")

    def test_first_start_shows_the_setup_code(
        self, settings: Any, db: None, monkeypatch: pytest.MonkeyPatch, capsys: Any
    ) -> None:
        settings.DEBUG = True
        monkeypatch.setattr(serve, "listening", lambda host, port: SimpleNamespace(run=lambda: 0))
        call_command("serve")
        assert f"/start, setup code {setup_code()}." in capsys.readouterr().out
