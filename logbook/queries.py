"""What pages ask of the log: rounds of a day, last rounds, slots taken, one entry read whole."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery, prefetch_related_objects

from logbook.models import (
    Correction,
    Entry,
    Kind,
    MeterChange,
    Reading,
    Remark,
    Round,
    RoundKind,
)
from logbook.whole import with_kinds
from station.models import Meter, RoundInterval, Transmitter

# What stands on a day's sheet between its rounds.
HAPPENINGS = (
    *(Kind.STATE, Kind.WAVE, Kind.CHECK, Kind.REMARK, Kind.TUBE, Kind.METER),
    *(Kind.INTERRUPTION, Kind.RESTORED, Kind.PERMIT, Kind.RETURNED),
)


def intervals_asked(transmitters: Sequence[Transmitter]) -> dict[int, dict[str, int]]:
    """Minutes between rounds by state of each transmitter; a state not there asks for none."""
    asked: dict[int, dict[str, int]] = {transmitter.pk: {} for transmitter in transmitters}
    for row in RoundInterval.objects.filter(transmitter__in=transmitters):
        asked[row.transmitter_id][row.state] = row.minutes
    return asked


def slots_taken(
    transmitters: Sequence[Transmitter], since: datetime, until: datetime
) -> dict[int, set[datetime]]:
    """The slots of since <= slot < until that have a routine round that counts."""
    taken: dict[int, set[datetime]] = {transmitter.pk: set() for transmitter in transmitters}
    rounds = Round.objects.filter(
        # Without it every round of the years is looked at: the slots' index begins with it.
        station__in={transmitter.station_id for transmitter in transmitters},
        kind=RoundKind.ROUTINE,
        slot__gte=since,
        slot__lt=until,
        duplicate_of__isnull=True,
        entry__ended_by__isnull=True,
        entry__transmitter__in=transmitters,
    )
    for transmitter_id, slot in rounds.values_list("entry__transmitter_id", "slot"):
        taken[transmitter_id].add(slot)
    return taken


def last_rounds(transmitters: Sequence[Transmitter]) -> dict[int, Round]:
    """The newest round that counts of each transmitter that has one."""
    newest = (
        Entry.objects.current()
        .filter(transmitter=OuterRef("pk"), kind=Kind.ROUND, round__duplicate_of__isnull=True)
        .order_by("-observed_at", "-no")
        .values("pk")[:1]
    )
    ids = Transmitter.objects.filter(pk__in=[one.pk for one in transmitters]).values_list(
        Subquery(newest), flat=True
    )
    rounds = Round.objects.filter(pk__in=[key for key in ids if key]).select_related("entry")
    return {row.entry.transmitter_id: row for row in rounds}


def last_readings(rounds: Iterable[Round], quantities: Iterable[str]) -> list[Reading]:
    """The current readings of these quantities in these rounds, each with its meter."""
    keys = {row.pk: row.station_id for row in rounds}
    return list(
        # The index of rounds begins with the station: without it every reading is looked at.
        Reading.objects.current()
        .filter(station__in=set(keys.values()), round__in=keys)
        .filter(meter__quantity__in=list(quantities))
        .select_related("meter__stage", "round__entry")
        .order_by("meter__sheet_order")
    )


def rounds_of_span(transmitter: Transmitter, since: datetime, until: datetime) -> list[Round]:
    """Every round of the slots of since <= slot < until, struck ones and duplicates too."""
    rounds = Round.objects.filter(
        station=transmitter.station,
        slot__gte=since,
        slot__lt=until,
        entry__transmitter=transmitter,
    )
    return with_readings(list(rounds.select_related("entry").order_by("slot", "entry__no")))


def with_readings(rounds: list[Round]) -> list[Round]:
    """Rounds of one station with their readings fetched, in order, struck ones too."""
    if rounds:
        read = Reading.objects.of_rounds(rounds[0].station_id, [row.pk for row in rounds])
        prefetch_related_objects(rounds, Prefetch("readings", read.order_by("pk")))
    return rounds


def happenings_of_span(transmitter: Transmitter, since: datetime, until: datetime) -> list[Entry]:
    """What was written between the rounds with since <= observed_at < until, struck ones too;
    what concerns the whole station stands on the sheet of each transmitter.
    """
    span = {"kind__in": HAPPENINGS, "observed_at__gte": since, "observed_at__lt": until}
    of_either = Q(transmitter=transmitter) | Q(transmitter=None, station=transmitter.station)
    return with_kinds(Entry.objects.filter(of_either, **span).order_by("observed_at", "no"))


def corrections_of(entries: Iterable[Entry]) -> list[Correction]:
    """The corrections of these entries in the order in which they were written."""
    return list(
        Correction.objects.filter(of__in=[entry.pk for entry in entries])
        .select_related("entry", "of")
        .order_by("entry__no")
    )


def remarks_about(entries: Iterable[Entry]) -> list[Entry]:
    """Remarks about these entries, whenever they were written."""
    about = Remark.objects.filter(about__in=[entry.pk for entry in entries])
    return [remark.entry for remark in about.select_related("entry", "about").order_by("entry__no")]


def whole_entries() -> QuerySet[Entry]:
    """Entries with whom and what they stand beside; the rows of their kinds are asked for apart."""
    return Entry.objects.select_related(
        "station", "transmitter__station", "by", "in_place_of", "ended_by"
    )


def duplicates_of(row: Round) -> list[Round]:
    """The rounds kept as duplicates of this one, struck ones left out."""
    return list(
        row.duplicates.filter(entry__ended_by__isnull=True)
        .select_related("entry")
        .order_by("entry__no")
    )


def earlier_entry(entry: Entry) -> Entry | None:
    """The entry before this one in the chain."""
    return Entry.objects.filter(station=entry.station, no=entry.no - 1).only("no", "digest").first()


def readings_in_correction(correction: Correction) -> list[Reading]:
    """The readings that a correction brought or ended, for its own page."""
    return list(
        Reading.objects.of_rounds(correction.entry.station_id, [correction.of_id])
        .filter(Q(brought_by=correction.entry) | Q(ended_by=correction.entry))
        .select_related("meter")
        .order_by("meter__sheet_order", "pk")
    )


def newest_numbers(meter_ids: Sequence[int], before: int) -> dict[int, Reading]:
    """The newest number that stands of each meter before a minute."""
    return newest_of(Reading.objects.current().filter(value__isnull=False), meter_ids, before)


def newest_readings(meter_ids: Sequence[int], before: int) -> dict[int, Reading]:
    """The newest reading that stands of each meter before a minute, with its round."""
    return newest_of(Reading.objects.current(), meter_ids, before)


def newest_of(
    readings: QuerySet[Reading], meter_ids: Sequence[int], before: int
) -> dict[int, Reading]:
    of_meter = readings.filter(meter=OuterRef("pk"), minute__lt=before).order_by("-minute", "-pk")
    newest = Meter.objects.filter(pk__in=meter_ids).annotate(
        last=Subquery(of_meter.values("pk")[:1])
    )
    found = Reading.objects.filter(pk__in=newest.values("last")).select_related("round__entry")
    return {reading.meter_id: reading for reading in found}


def meters_with_changes(transmitter: Transmitter) -> list[Meter]:
    """The meters with every instrument that hung behind them, and the changes that stand."""
    changes = MeterChange.objects.filter(entry__ended_by__isnull=True)
    return list(
        transmitter.meters.prefetch_related(
            "instruments",
            Prefetch("changes", changes.select_related("entry").order_by("entry__observed_at")),
        )
    )
