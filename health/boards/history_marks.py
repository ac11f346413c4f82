"""What happened to one meter in a span, as marks beside its curve and lines in a list."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F, Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from health.models import Episode
from health.words import flag_words
from logbook.models import Correction, Entry, Kind, Reading, StateChange
from logbook.reading_words import reading_words
from logbook.times import instant_of
from logbook.whole import with_kinds
from logbook.words import change_words, entry_words
from station.models import Limit, Meter
from station.states import State


@dataclass(frozen=True)
class HistoryMark:
    """``kind`` is one of KINDS; ``href`` leads to what it stands on, '' where there is no page."""

    at: datetime
    kind: str
    words: str
    href: str = ""

    @property
    def kind_words(self) -> str:
        return str(KINDS[self.kind])


# In the order in which marks of one instant stand.
KINDS = {
    "flag": gettext_lazy("flag"),
    "correction": gettext_lazy("corrected"),
    "limit": gettext_lazy("limits"),
    "instrument": gettext_lazy("instrument"),
    "tube": gettext_lazy("tube"),
    "trip": gettext_lazy("trip"),
}


def marks_of(meter: Meter, since: int, until: int) -> list[HistoryMark]:
    """In the order of time, for since <= minute < until."""
    marks = [
        *flags(meter, since, until),
        *corrections(meter, since, until),
        *limits(meter, since, until),
        *happenings(meter, since, until),
    ]
    order = list(KINDS)
    return sorted(marks, key=lambda mark: (mark.at, order.index(mark.kind), mark.words))


def flags(meter: Meter, since: int, until: int) -> Iterator[HistoryMark]:
    began = Episode.objects.filter(transmitter=meter.transmitter_id, meter=meter)
    began = began.filter(since_minute__gte=since, since_minute__lt=until)
    for episode in began.select_related("meter", "transmitter"):
        yield HistoryMark(episode.since, "flag", flag_words(episode), episode.get_absolute_url())


def corrections(meter: Meter, since: int, until: int) -> Iterator[HistoryMark]:
    """Readings of this meter that a correction ended, at the minute at which they were read.

    Found by the corrections, written after what they correct: a span has few of them and as many
    rounds as hours.
    """
    written = Correction.objects.filter(
        entry__transmitter=meter.transmitter_id,
        entry__kind=Kind.CORRECTION,
        entry__observed_at__gte=instant_of(since),
    )
    corrected = list(written.values_list("of", flat=True))
    struck = Reading.objects.filter(
        round__in=corrected,
        ended_by__isnull=False,
        meter=meter,
        minute__gte=since,
        minute__lt=until,
    ).exclude(ended_by=F("round"))
    for reading in struck.select_related("ended_by__correction", "round__entry"):
        facts = {
            "value": reading_words(reading, meter.decimals) or reading.get_code_display(),
            "reason": reading.ended_by.correction.reason,
        }
        words = _("%(value)s struck: %(reason)s") % facts
        page = reverse("entry", args=[reading.round.entry.no])
        yield HistoryMark(reading.observed_at, "correction", words, page)


def limits(meter: Meter, since: int, until: int) -> Iterator[HistoryMark]:
    versions = Limit.objects.filter(
        meter=meter, valid_from__gte=instant_of(since), valid_from__lt=instant_of(until)
    )
    for limit in versions:
        yield HistoryMark(limit.valid_from, "limit", _("limits changed: %s") % limit.reason)


def happenings(meter: Meter, since: int, until: int) -> Iterator[HistoryMark]:
    """Tubes and instruments that came and went, and trips."""
    current = Entry.objects.current().filter(
        station=meter.station_id,
        observed_at__gte=instant_of(since),
        observed_at__lt=instant_of(until),
    )
    for kind, entries in wanted(meter, current).items():
        for entry in with_kinds(entries):
            page = reverse("entry", args=[entry.no])
            yield HistoryMark(entry.observed_at, kind, entry_words(entry), page)
    for change in trips(meter, since, until):
        page = reverse("entry", args=[change.entry.no])
        yield HistoryMark(change.observed_at, "trip", change_words(change), page)


def trips(meter: Meter, since: int, until: int) -> QuerySet[StateChange]:
    return StateChange.objects.filter(
        transmitter=meter.transmitter_id,
        state=State.TRIPPED,
        observed_at__gte=instant_of(since),
        observed_at__lt=instant_of(until),
        entry__ended_by__isnull=True,
    ).select_related("entry", "antenna", "coil_set")


def wanted(meter: Meter, current: QuerySet[Entry]) -> dict[str, QuerySet[Entry]]:
    own = current.filter(transmitter=meter.transmitter_id)
    return {
        "instrument": own.filter(kind=Kind.METER, meterchange__meter=meter),
        "tube": current.filter(kind=Kind.TUBE).filter(moves_at(meter)),
    }


def moves_at(meter: Meter) -> Q:
    """Moves into or out of the meter's socket, or of any of its stage when it has none."""
    if meter.socket_id:
        return Q(tubemove__from_socket=meter.socket_id) | Q(tubemove__to_socket=meter.socket_id)
    if meter.stage_id:
        return Q(tubemove__from_socket__stage=meter.stage_id) | Q(
            tubemove__to_socket__stage=meter.stage_id
        )
    return Q(pk__in=[])
