"""What health does when the register changes under readings that were judged."""

from datetime import datetime
from typing import Any

from django.db.models import Q
from django.dispatch import receiver

from health.models import Judging
from logbook.times import minute_of
from station.models import Transmitter
from station.signals import limits_changed


@receiver(limits_changed)
def judge_anew(*, transmitter: Transmitter, since: datetime, **kwargs: Any) -> None:
    """Ask the next judgement to begin at the changed limit's instant."""
    Judging.objects.get_or_create(transmitter=transmitter, station_id=transmitter.station_id)
    minute = minute_of(since)
    later = Q(rejudge_from__isnull=True) | Q(rejudge_from__gt=minute)
    Judging.objects.filter(later, transmitter=transmitter).update(rejudge_from=minute)
