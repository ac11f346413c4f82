"""A progress bar for long work, shown on a terminal alone."""

import sys
from typing import Self

WIDTH = 40


class ProgressBar:
    """Within ``with``, call it with the share done, 0 to 1; one line on standard error."""

    def __init__(self, label: str) -> None:
        self.label = label
        self.is_shown = sys.stderr.isatty()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *failure: object) -> None:
        if self.is_shown:
            print(file=sys.stderr)

    def __call__(self, share: float) -> None:
        if self.is_shown:
            filled = round(share * WIDTH)
            bar = "#" * filled + "." * (WIDTH - filled)
            print(f"\r{self.label:12} [{bar}] {share:4.0%}", end="", file=sys.stderr, flush=True)
