"""Seeds of the commit under test: nothing can be fitted to them."""

import hashlib
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent


def commit() -> str:
    return subprocess.check_output(["git", "rev-parse", "HEAD"], cwd=ROOT, text=True).strip()


def seeds(count: int) -> list[int]:
    """The first numbers of SHA-256 over the commit and a count."""
    return [
        int.from_bytes(hashlib.sha256(f"{commit()} {number}".encode()).digest()[:4])
        for number in range(count)
    ]
