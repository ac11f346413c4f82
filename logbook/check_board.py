"""The board of tests and measurements: when each was last done, what is due, what is open."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import OuterRef, Q, QuerySet, Subquery

from logbook.checks import NOT_GOOD, PLANS, Plan, fact_words
from logbook.models import CheckMade, Entry, Kind
from logbook.models.check import OF_TUBE, Topic
from station.models import Station, Transmitter

SOON = timedelta(days=30)


@dataclass(frozen=True)
class CheckLine:
    """``level`` is '', 'due' or 'overdue'; ``due`` is the day on which it falls due, if any."""

    plan: Plan
    last: CheckMade | None
    words: str
    due: date | None
    level: str


@dataclass(frozen=True)
class CheckPart:
    """One transmitter, or the station where that is None."""

    transmitter: Transmitter | None
    lines: tuple[CheckLine, ...]


@dataclass(frozen=True)
class CheckBoard:
    parts: tuple[CheckPart, ...]
    open_lights: tuple[CheckMade, ...]


def standing_checks(station: Station) -> QuerySet[CheckMade]:
    rows = CheckMade.objects.filter(station=station, entry__ended_by__isnull=True)
    return rows.select_related("entry__transmitter")


def open_lights(station: Station) -> list[CheckMade]:
    """The faults of the tower lights that no repair ended."""
    faults = standing_checks(station).filter(topic=Topic.TOWER_LIGHTS, facts__result=NOT_GOOD)
    repaired = standing_checks(station).filter(topic=Topic.TOWER_REPAIR)
    return list(faults.exclude(entry__in=repaired.values("before")).order_by("entry__observed_at"))


def check_board(station: Station, now: datetime) -> CheckBoard:
    transmitters = list(Transmitter.objects.filter(station=station))
    newest = newest_checks(station)
    parts = [
        CheckPart(one, tuple(line_of(plan, newest.get((key, plan.topic)), now) for plan in plans))
        for key, one, plans in [
            (None, None, plans_of(is_of_station=True)),
            *((one.pk, one, plans_of(is_of_station=False)) for one in transmitters),
        ]
    ]
    return CheckBoard(tuple(parts), tuple(open_lights(station)))


def plans_of(*, is_of_station: bool) -> list[Plan]:
    """Those that begin by themselves: a repair is written at its fault."""
    return [
        plan
        for plan in PLANS.values()
        if plan.is_of_station == is_of_station and plan.topic != Topic.TOWER_REPAIR
    ]


def newest_checks(station: Station) -> dict[tuple[int | None, str], CheckMade]:
    """The last check of each topic, by transmitter (None: the station) and topic."""
    rows = standing_checks(station)
    later = rows.filter(topic=OuterRef("topic")).order_by("-entry__observed_at", "-entry__no")
    of_sets = later.filter(entry__transmitter=OuterRef("entry__transmitter")).values("pk")[:1]
    of_station = later.filter(entry__transmitter=None).values("pk")[:1]
    newest = rows.filter(
        Q(entry__transmitter__isnull=False, pk=Subquery(of_sets))
        | Q(entry__transmitter=None, pk=Subquery(of_station))
    )
    return {(row.entry.transmitter_id, row.topic): row for row in newest}


def line_of(plan: Plan, last: CheckMade | None, now: datetime) -> CheckLine:
    words = "; ".join(fact_words(last.topic, last.facts)) if last else ""
    due = due_day(plan, last)
    if due is None:
        level = "due" if plan.due_days else ""
    elif due < now.date():
        level = "overdue"
    else:
        is_soon = plan.topic == Topic.MEASUREMENT and due - now.date() <= SOON
        level = "due" if due == now.date() or is_soon else ""
    return CheckLine(plan, last, words, due, level)


def due_day(plan: Plan, last: CheckMade | None) -> date | None:
    """The day that was written with a measurement, else so many days after the last one."""
    if last is None:
        return None
    if "due" in last.facts:
        return date.fromisoformat(last.facts["due"])
    if not plan.due_days:
        return None
    return last.entry.observed_at.date() + timedelta(days=plan.due_days)


def checks_of_tube(station: Station, serial: str) -> list[CheckMade]:
    """The filament step tests and settings of one tube in the order of time."""
    return list(checks_of_tubes(station).filter(facts__tube=serial))


def checks_of_tubes(station: Station) -> QuerySet[CheckMade]:
    """The filament step tests and settings of every tube in the order of time."""
    own = standing_checks(station).filter(topic__in=OF_TUBE)
    return own.order_by("entry__observed_at", "entry__no")


def rounds_about(transmitter: Transmitter, since: datetime, until: datetime) -> list[Entry]:
    """The rounds between which something was adjusted, the newest first."""
    rounds = Entry.objects.current().filter(
        transmitter=transmitter,
        kind=Kind.ROUND,
        observed_at__gte=since,
        observed_at__lte=until,
        round__duplicate_of__isnull=True,
    )
    return list(rounds.select_related("round").order_by("-observed_at", "-no"))
