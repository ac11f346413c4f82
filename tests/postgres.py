"""A throw-away PostgreSQL in a temporary folder, reached by its socket alone."""

import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

FAST = ("fsync=off", "synchronous_commit=off", "full_page_writes=off", "listen_addresses=")
UNPRIVILEGED = "nobody"


def binaries() -> Path | None:
    """The newest installed server's programs."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).resolve().parent if on_path else None


def as_server(command: list[str]) -> list[str]:
    """The command as an unprivileged user, because PostgreSQL refuses to run as root."""
    if os.geteuid() != 0:
        return command
    user = pwd.getpwnam(UNPRIVILEGED)
    ids = [f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"]
    return ["setpriv", *ids, *command]


@contextmanager
def throw_away() -> Iterator[str]:
    """The address (DATABASE_URL) of a fresh server that is gone afterwards."""
    programs = binaries()
    if programs is None:
        raise RuntimeError("PostgreSQL is missing: install the package postgresql.")
    folder = Path(tempfile.mkdtemp(prefix="log-postgres-"))
    if os.geteuid() == 0:
        shutil.chown(folder, UNPRIVILEGED)
    server = None
    try:
        make_cluster(programs, folder)
        server = start(programs, folder)
        yield f"postgresql://test@/postgres?host={folder}"
    finally:
        if server:
            server.send_signal(signal.SIGINT)
            server.wait(timeout=30)
        shutil.rmtree(folder, ignore_errors=True)


def make_cluster(programs: Path, folder: Path) -> None:
    options = ["-A", "trust", "-U", "test", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"]
    subprocess.run(
        as_server([str(programs / "initdb"), *options, "-D", str(folder / "data")]),
        check=True,
        stdout=subprocess.DEVNULL,
        cwd="/",
    )


def start(programs: Path, folder: Path) -> subprocess.Popen[bytes]:
    options = [part for setting in FAST for part in ("-c", setting)]
    with open(folder / "log", "wb") as log:
        server = subprocess.Popen(
            as_server(
                [str(programs / "postgres"), "-D", str(folder / "data"), "-k", str(folder)]
                + options
            ),
            stdout=log,
            stderr=log,
            cwd="/",
        )
    for _attempt in range(200):
        ready = subprocess.run([programs / "pg_isready", "-q", "-h", str(folder)], check=False)
        if ready.returncode == 0:
            return server
        time.sleep(0.05)
    server.kill()
    raise RuntimeError(f"PostgreSQL did not start: {(folder / 'log').read_text()}")


def main() -> int:
    """Run the command that follows with DATABASE_URL naming a throw-away server."""
    with throw_away() as url:
        return subprocess.call(sys.argv[1:], env={**os.environ, "DATABASE_URL": url})


if __name__ == "__main__":
    sys.exit(main())
