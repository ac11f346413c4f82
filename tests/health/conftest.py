"""What every test of the analysis stands on."""

import pytest


@pytest.fixture(autouse=True)
def _read_twice(read_twice: None) -> None:
    """One round is enough for a flag, unless a test is about the second reading."""
