"""What every test of the analysis stands on."""

import pytest

from station.models import Socket, Transmitter, Tube
from tests.make import make_sockets, make_tube


@pytest.fixture(autouse=True)
def _read_twice(read_twice: None) -> None:
    """One round is enough for a flag, unless a test is about the second reading."""


@pytest.fixture
def tube(transmitter: Transmitter) -> Tube:
    return make_tube(transmitter, "A-1", earlier_h=6000)


@pytest.fixture
def sockets(transmitter: Transmitter, tube: Tube) -> tuple[Socket, Socket]:
    return make_sockets(transmitter)
