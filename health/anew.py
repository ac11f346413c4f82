"""What asks for readings that were judged to be judged again: the register, and the whole station's
entries."""

from django.db.models import Exists, Min, OuterRef, Q

from health.models import Judging
from logbook.models import Correction, Entry, Reading
from logbook.models.check import OF_ALL, CheckMade
from logbook.times import minute_of
from station.models import Transmitter


def ask_anew(transmitter: Transmitter, minute: int) -> None:
    """Ask the next judgement of a transmitter to begin at ``minute`` at the latest."""
    Judging.objects.get_or_create(transmitter=transmitter, station_id=transmitter.station_id)
    later = Q(rejudge_from__isnull=True) | Q(rejudge_from__gt=minute)
    Judging.objects.filter(later, transmitter=transmitter).update(rejudge_from=minute)


def touched_by(entry: Entry) -> list[Transmitter]:
    """The transmitters whose readings an entry of the whole station moves, now asked to be judged
    anew: the weather, or work on an antenna, written after readings that it speaks of."""
    corrected = Correction.objects.filter(entry=entry).values_list("of", flat=True)
    told = CheckMade.objects.filter(entry__in=[entry.pk, *corrected], topic__in=OF_ALL)
    first = told.aggregate(first=Min("entry__observed_at"))["first"]
    if first is None:
        return []
    minute = minute_of(first)
    later = Reading.objects.current().filter(meter__transmitter=OuterRef("pk"), minute__gte=minute)
    found = list(Transmitter.objects.filter(Exists(later), station=entry.station))
    for transmitter in found:
        ask_anew(transmitter, minute)
    return found
