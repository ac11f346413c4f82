"""The flags that need somebody: by transmitter, priority and age."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import Q
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from health.boards.flag_lines import LOOK_BACK, Answers, FlagLine, answers_of_station, lines_of
from health.boards.flag_load import MOST_DAYS, Load, build_load
from health.boards.urgency import urgency
from health.lifecycle import NEEDS_A_PERSON, SET_ASIDE, Life
from health.models import Episode
from health.rules.groups import grouped
from logbook.models import FlagAction
from logbook.shelves import Aside
from logbook.times import minute_of
from station.models import Priority, Station, Transmitter

RETURNED_SHOWN_FOR = timedelta(days=14)
SECTIONS: Mapping[str, tuple[Promise, frozenset[Life]]] = {
    "needs": (_("needs somebody"), NEEDS_A_PERSON),
    "acknowledged": (_("acknowledged"), frozenset({Life.ACKNOWLEDGED})),
    "shelved": (_("shelved"), frozenset({Life.SHELVED})),
    "out-of-service": (_("out of service"), frozenset({Life.OUT_OF_SERVICE})),
    "suppressed": (_("suppressed by state"), frozenset({Life.SUPPRESSED})),
    "returned": (_("returned"), frozenset({Life.RETURNED})),
}
"""What the page can be narrowed to: each flag that is not closed is in just one."""

QUIET = SET_ASIDE | {Life.SUPPRESSED}


@dataclass(frozen=True)
class Section:
    name: str
    label: Promise
    count: int
    is_shown: bool


@dataclass(frozen=True)
class FlagGroup:
    transmitter: Transmitter
    lines: tuple[FlagLine, ...]


@dataclass(frozen=True)
class FlagBoard:
    """``groups`` are of the section that is shown, or of all; ``asides`` what is shelved or out of
    service, whether a flag stands there or not; ``recomputed``: actions about flags that a later
    judgement no longer raises.
    """

    sections: tuple[Section, ...]
    groups: tuple[FlagGroup, ...]
    asides: tuple[Aside, ...]
    recomputed: tuple[FlagAction, ...]
    load: Load

    @property
    def count(self) -> int:
        return sum(section.count for section in self.sections)

    @property
    def is_whole(self) -> bool:
        return not any(section.is_shown for section in self.sections)


def build_flags(station: Station, now: datetime, section: str = "") -> FlagBoard:
    """As many queries for three transmitters as for twelve."""
    answers = answers_of_station(station, now)
    known = lines_of(episodes_until(station, now), answers, now)
    listed = [line for line in known if is_listed(line, now)]
    wanted = SECTIONS[section][1] if section in SECTIONS else frozenset(Life)
    return FlagBoard(
        sections=tuple(sections(listed, section)),
        groups=tuple(groups_of(listed, wanted)),
        asides=tuple(asides_at(answers, now)),
        recomputed=tuple(vanished(station, answers)),
        load=build_load(station, known, now),
    )


def episodes_until(station: Station, now: datetime) -> Iterable[Episode]:
    """Those of the load's span, and what stays listed longer because its priority is high."""
    pressing = Q(priority=Priority.HIGH, until_minute__gt=minute_of(now - LOOK_BACK))
    recent = Q(until_minute__gt=minute_of(now - timedelta(days=MOST_DAYS)))
    return Episode.objects.filter(
        Q(until_minute__isnull=True) | recent | pressing,
        station=station,
        since_minute__lte=minute_of(now),
    ).select_related("meter", "transmitter")


def waiting_lines(station: Station, now: datetime) -> list[FlagLine]:
    """What the next person must know of: low water first, what is set aside last."""
    lines = lines_of(episodes_until(station, now), answers_of_station(station, now), now)
    return sorted((line for line in lines if line.is_waiting), key=by_need)


def is_listed(line: FlagLine, now: datetime) -> bool:
    """What waits, and what returned within two weeks and is not closed."""
    until = line.episode.until
    is_recent = until is not None and until > now - RETURNED_SHOWN_FOR
    return line.is_waiting or (is_recent and line.life != Life.CLOSED)


def sections(lines: Iterable[FlagLine], shown: str) -> Iterator[Section]:
    lives = [line.life for line in lines]
    for name, (label, within) in SECTIONS.items():
        yield Section(name, label, sum(life in within for life in lives), name == shown)


def groups_of(lines: Iterable[FlagLine], wanted: frozenset[Life]) -> Iterator[FlagGroup]:
    """The lines of each transmitter; those with low water first, then in the register's order."""
    own: dict[Transmitter, list[FlagLine]] = defaultdict(list)
    for line in lines:
        own[line.episode.transmitter].append(line)
    groups = [
        FlagGroup(transmitter, tuple(line for line in in_order(group) if line.life in wanted))
        for transmitter, group in own.items()
    ]
    yield from sorted((group for group in groups if group.lines), key=by_transmitter)


def by_transmitter(group: FlagGroup) -> tuple[bool, int]:
    return not group.lines[0].is_first_of_all, group.transmitter.sheet_order


def in_order(lines: Iterable[FlagLine]) -> list[FlagLine]:
    return sorted(with_first(lines), key=by_need)


def with_first(lines: Iterable[FlagLine]) -> Iterator[FlagLine]:
    """The flags of a transmitter, each with the one that it followed."""
    for first, *others in grouped(lines, lambda line: line.episode.since_minute):
        yield first
        yield from (replace(line, began_with=first) for line in others)


def by_need(line: FlagLine) -> tuple[bool, bool, bool, bool, tuple[bool, int, int]]:
    """Low water; what is set aside last; what stands, what nobody has seen, priority and age."""
    return (
        not line.is_first_of_all,
        line.life in QUIET,
        not line.is_standing,
        not line.needs_a_person,
        urgency(line.episode),
    )


def asides_at(answers: Answers, now: datetime) -> list[Aside]:
    found = [aside for own in answers.asides.values() for aside in own if aside.is_at(now)]
    return sorted(found, key=lambda aside: aside.action.entry.no)


def vanished(station: Station, answers: Answers) -> list[FlagAction]:
    """The last action about every flag that is judged away."""
    stored = set(
        Episode.objects.filter(
            station=station, first_no__in=[first_no for _rule, _meter, first_no in answers.by_key]
        ).values_list("rule", "meter_id", "first_no")
    )
    return [of_flag[-1] for key, of_flag in answers.by_key.items() if key not in stored]
