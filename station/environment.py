"""Typed readers of environment variables; a bad value stops the start with a sentence."""

import os
import secrets
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

from django.core.exceptions import ImproperlyConfigured

PROJECT = Path(__file__).resolve().parent.parent
SECRET_FILE = "secret-key"

SQLITE_INIT = """
PRAGMA journal_mode=WAL;
PRAGMA synchronous=FULL;
PRAGMA busy_timeout=20000;
PRAGMA foreign_keys=ON;
"""


def read_text(name: str, default: str = "") -> str:
    return os.environ.get(name, default).strip()


def read_flag(name: str, default: bool = False) -> bool:
    text = read_text(name, "1" if default else "0").lower()
    if text in {"1", "true", "yes"}:
        return True
    if text in {"0", "false", "no", ""}:
        return False
    raise ImproperlyConfigured(f"{name} is '{text}': write 1 or 0.")


def read_whole_number(name: str, default: int) -> int:
    text = read_text(name, str(default))
    if not text.isdecimal():
        raise ImproperlyConfigured(f"{name} is '{text}': write a whole number.")
    return int(text)


def read_list(name: str, default: str = "") -> list[str]:
    return [item.strip() for item in read_text(name, default).split(",") if item.strip()]


def read_data_dir() -> Path:
    return Path(read_text("DATA_DIR", str(PROJECT / "data")))


def read_secret(name: str) -> str:
    """The secret from the environment, else the one that ``make_secret`` left; '' if none."""
    file = read_data_dir() / SECRET_FILE
    return read_text(name) or (file.read_text().strip() if file.is_file() else "")


def make_secret() -> None:
    """Leave a random secret in the data folder, readable by its owner alone, if there is none."""
    file = read_data_dir() / SECRET_FILE
    if file.exists():
        return
    file.parent.mkdir(parents=True, exist_ok=True)
    with open(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as writing:
        writing.write(secrets.token_urlsafe(50))


def read_database(name: str, default_file: Path) -> dict[str, Any]:
    """A Django database from a postgresql:// address, or SQLite in ``default_file``."""
    url = read_text(name)
    if not url:
        return sqlite_database(default_file)
    parts = urlsplit(url)
    if parts.scheme == "sqlite":
        return sqlite_database(Path(parts.path))
    if parts.scheme not in {"postgres", "postgresql"}:
        raise ImproperlyConfigured(
            f"{name} starts with '{parts.scheme}': write postgresql://user@host/name."
        )
    query = {key: values[-1] for key, values in parse_qs(parts.query).items()}
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": parts.path.lstrip("/"),
        "USER": unquote(parts.username or ""),
        "PASSWORD": unquote(parts.password or ""),
        "HOST": query.pop("host", parts.hostname or ""),
        "PORT": str(parts.port or ""),
        "OPTIONS": query,
        "CONN_MAX_AGE": 60,
        "CONN_HEALTH_CHECKS": True,
    }


def sqlite_database(file: Path) -> dict[str, Any]:
    """SQLite that keeps every committed save through a power cut (synchronous FULL)."""
    file.parent.mkdir(parents=True, exist_ok=True)
    return {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": file,
        "OPTIONS": {"init_command": SQLITE_INIT, "transaction_mode": "IMMEDIATE"},
        "TEST": {"NAME": file.with_name(f"test-{file.name}")},
    }
