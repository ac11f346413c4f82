"""What health does when the register changes under readings that were judged."""

from datetime import datetime
from typing import Any

from django.dispatch import receiver

from health.anew import ask_anew
from logbook.times import minute_of
from station.models import Transmitter
from station.signals import limits_changed


@receiver(limits_changed)
def judge_anew(*, transmitter: Transmitter, since: datetime, **kwargs: Any) -> None:
    """Ask the next judgement to begin at the changed limit's instant."""
    ask_anew(transmitter, minute_of(since))
