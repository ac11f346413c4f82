"""The flags that need somebody: by transmitter, priority and age."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from health.boards.urgency import urgency
from health.lifecycle import NEEDS_A_PERSON, Life, life_of
from health.models import Episode
from health.rules.groups import grouped
from health.words import flag_words
from logbook.models import FlagAction
from logbook.times import MINUTE, minute_of
from station.models import Priority, Station, Transmitter

STALE_AFTER = timedelta(hours=24)
RETURNED_SHOWN_FOR = timedelta(days=14)
CHATTER = 3

Key = tuple[str, int, int]


@dataclass(frozen=True)
class FlagLine:
    """One flag. ``is_stale``: it has stood for more than a day; ``is_chattering``: raised three
    times or more within a day. ``began_with``: the flag that began it, where this one followed
    within two days: probably one cause.
    """

    episode: Episode
    words: str
    life: Life
    priority: str
    age: timedelta
    is_stale: bool
    is_chattering: bool
    actions: tuple[FlagAction, ...]
    began_with: "FlagLine | None" = None

    @property
    def needs_a_person(self) -> bool:
        return self.life in NEEDS_A_PERSON


@dataclass(frozen=True)
class FlagGroup:
    transmitter: Transmitter
    lines: tuple[FlagLine, ...]


@dataclass(frozen=True)
class FlagBoard:
    """``recomputed``: actions about flags that a later judgement no longer raises."""

    groups: tuple[FlagGroup, ...]
    recomputed: tuple[FlagAction, ...]
    load: tuple[tuple[str, float], ...]


def build_flags(station: Station, now: datetime) -> FlagBoard:
    """As many queries for three transmitters as for twelve."""
    since = minute_of(now - RETURNED_SHOWN_FOR)
    episodes = list(
        Episode.objects.filter(station=station)
        .touching(since, minute_of(now) + 1)
        .select_related("meter", "transmitter")
    )
    actions = actions_by_key(FlagAction.objects.filter(station=station))
    lines: dict[Transmitter, list[FlagLine]] = defaultdict(list)
    for line in lines_of(episodes, actions, now):
        if line.life != Life.CLOSED:
            lines[line.episode.transmitter].append(line)
    return FlagBoard(
        groups=tuple(
            FlagGroup(transmitter, tuple(sorted(with_first(group), key=by_need)))
            for transmitter, group in sorted(lines.items(), key=lambda one: one[0].sheet_order)
        ),
        recomputed=tuple(vanished(station, actions)),
        load=flag_load(episodes, now),
    )


def with_first(lines: Iterable[FlagLine]) -> Iterator[FlagLine]:
    """The flags of a transmitter, each with the one that it followed."""
    for first, *others in grouped(lines, lambda line: line.episode.since_minute):
        yield first
        yield from (replace(line, began_with=first) for line in others)


def by_need(line: FlagLine) -> tuple[bool, bool, tuple[int, int]]:
    """What stands first, then what nobody has seen, then by priority and age."""
    return line.episode.until_minute is not None, not line.needs_a_person, urgency(line.episode)


def actions_by_key(actions: Iterable[FlagAction]) -> dict[Key, list[FlagAction]]:
    """The actions that stand, about each flag, in order."""
    by_key: dict[Key, list[FlagAction]] = defaultdict(list)
    current = actions.filter(entry__ended_by__isnull=True).select_related(
        "entry", "meter__transmitter"
    )
    for action in current.order_by("entry__no"):
        by_key[(action.rule, action.meter_id, action.first_no)].append(action)
    return by_key


def lines_of(
    episodes: Iterable[Episode], actions: dict[Key, list[FlagAction]], now: datetime
) -> list[FlagLine]:
    episodes = list(episodes)
    raised: dict[tuple[str, int], list[int]] = defaultdict(list)
    for episode in episodes:
        raised[(episode.rule, episode.meter_id)].append(episode.since_minute)
    return [
        flag_line(episode, actions, now, raised[(episode.rule, episode.meter_id)])
        for episode in episodes
    ]


def flag_line(
    episode: Episode, actions: dict[Key, list[FlagAction]], now: datetime, raised: list[int]
) -> FlagLine:
    of_flag = actions.get((episode.rule, episode.meter_id, episode.first_no), [])
    is_standing = episode.until_minute is None
    age = (now if is_standing else episode.until) - episode.since
    day = STALE_AFTER // MINUTE
    near = [minute for minute in raised if abs(minute - episode.since_minute) < day]
    return FlagLine(
        episode=episode,
        words=flag_words(episode),
        life=life_of(is_standing=is_standing, verbs=[action.verb for action in of_flag]),
        priority=episode.get_priority_display(),
        age=age,
        is_stale=is_standing and age > STALE_AFTER,
        is_chattering=len(near) >= CHATTER,
        actions=tuple(of_flag),
    )


def vanished(station: Station, actions: dict[Key, list[FlagAction]]) -> list[FlagAction]:
    """The last action about every flag that is judged away."""
    stored = set(
        Episode.objects.filter(
            station=station, first_no__in=[first_no for _rule, _meter, first_no in actions]
        ).values_list("rule", "meter_id", "first_no")
    )
    return [of_flag[-1] for key, of_flag in actions.items() if key not in stored]


def flag_load(episodes: Iterable[Episode], now: datetime) -> tuple[tuple[str, float], ...]:
    """How many flags were raised a day over the last week, by priority."""
    week = minute_of(now - timedelta(days=7))
    raised = [episode.priority for episode in episodes if episode.since_minute >= week]
    return tuple((str(label), raised.count(priority) / 7) for priority, label in Priority.choices)
