"""What the register tells others; who listens is not its concern."""

from datetime import datetime
from functools import partial

from django.db import transaction
from django.dispatch import Signal

from station.models import Transmitter

serving = Signal()
"""The server begins to serve."""

limits_changed = Signal()
"""Limits, normal values or instruments of ``transmitter`` changed from the instant ``since`` on."""


def tell_limits_changed(transmitter: Transmitter, since: datetime) -> None:
    """Once committed; a listener that fails does not undo the change."""
    transaction.on_commit(
        partial(
            limits_changed.send_robust, sender=Transmitter, transmitter=transmitter, since=since
        )
    )
