"""Entries that are not judged yet: those past the number up to which each transmitter's are."""

from collections.abc import Iterable
from functools import reduce
from operator import or_

from django.db.models import Count, Q, QuerySet

from health.models import Judging
from logbook.models import Entry
from station.models import Transmitter


def pending_entries(transmitters: Iterable[Transmitter]) -> QuerySet[Entry]:
    """The numbers of a station follow its commits, so none turns up below one that was judged."""
    wanted = list(transmitters)
    rows = Judging.objects.filter(transmitter__in=wanted).values_list("transmitter", "judged_no")
    judged = dict(rows)
    later = [Q(transmitter=one, no__gt=judged.get(one.pk, 0)) for one in wanted]
    return Entry.objects.filter(reduce(or_, later, Q(pk__in=[])))


def pending_of_all(transmitters: Iterable[Transmitter]) -> dict[int, int]:
    """How many entries of each transmitter that has any are not judged yet."""
    waiting = pending_entries(transmitters)
    return dict(waiting.values_list("transmitter").annotate(Count("pk")))
