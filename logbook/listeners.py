"""What the log does when the station tells of something."""

from typing import Any

from django.dispatch import receiver

from logbook.clock_watch import WATCH
from station.signals import serving


@receiver(serving)
def watch_the_clock(**_told: Any) -> None:
    WATCH.start()
