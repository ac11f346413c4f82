"""Each flag as it stands: its episode, what people did about it, what it hangs under."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from health.boards.trips import Trip, Trips, trip_of, trips_of
from health.lifecycle import NEEDS_A_PERSON, SET_ASIDE, Life, life_of
from health.models import Episode
from health.words import flag_words
from logbook.models import FlagAction
from logbook.shelves import Aside, asides, duties_since
from logbook.standing import states_at
from logbook.times import MINUTE
from station.limits import is_live
from station.models import Priority, Station
from station.statuses import look_of

STALE_AFTER = timedelta(hours=24)
LOOK_BACK = timedelta(days=92)
"""How far back shelves and trips are looked for."""
CHATTER = 3

Key = tuple[str, int, int]


@dataclass(frozen=True)
class Answers:
    """What people did about flags, what is or was set aside, the trips of a station, and in which
    state each transmitter is now."""

    by_key: dict[Key, list[FlagAction]]
    asides: dict[int, list[Aside]]
    trips: Trips
    states: Mapping[int, str]

    def suppresses(self, episode: Episode) -> bool:
        """Whether a fixed limit's flag stands on a meter that says nothing in the present state,
        or was ended by such a state."""
        if episode.until_minute is not None:
            return episode.is_suppressed
        state = self.states.get(episode.transmitter_id) or ""
        return episode.is_of_limit and not is_live(episode.meter, state)

    def about(self, episode: Episode) -> list[FlagAction]:
        return self.by_key.get((episode.rule, episode.meter_id, episode.first_no), [])

    def asides_of(self, episode: Episode) -> list[Aside]:
        """What holds for a flag: its meter out of service, its rule shelved. Low water is never
        set aside, and what hangs under a trip is never shelved.
        """
        if episode.is_vital:
            return []
        may_be_shelved = trip_of(episode, self.trips) is None
        return [
            aside
            for aside in self.asides.get(episode.meter_id, [])
            if not aside.is_shelf or (may_be_shelved and aside.action.rule == episode.rule)
        ]


@dataclass(frozen=True)
class FlagLine:
    """One flag. ``is_stale``: it has stood for more than a day; ``is_chattering``: raised three
    times or more within a day. ``aside``: what sets it aside now; ``trip``: what it hangs under.
    ``began_with``: the flag that began it, where this one followed within two days: probably one
    cause.
    """

    episode: Episode
    words: str
    life: Life
    priority: str
    age: timedelta
    is_stale: bool
    is_chattering: bool
    actions: tuple[FlagAction, ...]
    aside: Aside | None = None
    trip: Trip | None = None
    began_with: "FlagLine | None" = None

    @property
    def needs_a_person(self) -> bool:
        return self.life in NEEDS_A_PERSON

    @property
    def is_standing(self) -> bool:
        return self.episode.until_minute is None

    @property
    def is_waiting(self) -> bool:
        """It stands, or is of high priority and has no cause yet."""
        is_pressing = self.episode.priority == Priority.HIGH
        return self.life != Life.CLOSED and (self.is_standing or is_pressing)

    @property
    def is_first_of_all(self) -> bool:
        return self.episode.is_vital and self.is_standing

    @property
    def state(self) -> str:
        """'shelved until 14:00 UTC, by A. Moor: being compared', 'acknowledged'."""
        word = str(look_of(self.life).word)
        return f"{word} {self.aside.words}" if self.aside and self.life in SET_ASIDE else word

    @property
    def told(self) -> str:
        """Its words, with how long or by whom, where its state's own word does not say it."""
        held = [self.aside.words] if self.aside and self.life in SET_ASIDE else []
        stale = [str(look_of("stale").word)] if self.is_stale else []
        return _("; ").join([self.words, *held, *stale])


def answers_of(station: Station, actions: Iterable[FlagAction], now: datetime) -> Answers:
    """Five queries, however many flags there are; ``actions`` are a queryset of the station's."""
    current = list(
        actions.filter(entry__ended_by__isnull=True)
        .select_related("entry", "meter__transmitter")
        .order_by("entry__no")
    )
    since = now - LOOK_BACK
    by_key: dict[Key, list[FlagAction]] = defaultdict(list)
    for action in current:
        by_key[(action.rule, action.meter_id, action.first_no)].append(action)
    by_meter: dict[int, list[Aside]] = defaultdict(list)
    for aside in asides(current, duties_since(station, since)):
        by_meter[aside.action.meter_id].append(aside)
    return Answers(by_key, by_meter, trips_of(station, since), states_at(station, now))


def answers_of_station(station: Station, now: datetime) -> Answers:
    return answers_of(station, FlagAction.objects.filter(station=station), now)


def lines_of(episodes: Iterable[Episode], answers: Answers, now: datetime) -> list[FlagLine]:
    episodes = list(episodes)
    raised: dict[tuple[str, int], list[int]] = defaultdict(list)
    for episode in episodes:
        raised[(episode.rule, episode.meter_id)].append(episode.since_minute)
    return [
        flag_line(episode, answers, now, raised[(episode.rule, episode.meter_id)])
        for episode in episodes
    ]


def flag_line(episode: Episode, answers: Answers, now: datetime, raised: list[int]) -> FlagLine:
    is_standing = episode.until_minute is None
    age = (now if is_standing else episode.until) - episode.since
    day = STALE_AFTER // MINUTE
    near = [minute for minute in raised if abs(minute - episode.since_minute) < day]
    held = [aside for aside in answers.asides_of(episode) if aside.is_at(now)]
    aside = min(held, key=lambda one: one.is_shelf, default=None)
    return FlagLine(
        episode=episode,
        words=flag_words(episode),
        life=life_in(episode, answers, now, aside),
        priority=episode.get_priority_display(),
        age=age,
        is_stale=is_standing and age > STALE_AFTER,
        is_chattering=len(near) >= CHATTER,
        actions=tuple(answers.about(episode)),
        aside=aside,
        trip=trip_of(episode, answers.trips),
    )


def life_in(episode: Episode, answers: Answers, now: datetime, aside: Aside | None) -> Life:
    is_standing = episode.until_minute is None
    held = answers.asides_of(episode)
    back = [one.end for one in held if one.end is not None and episode.since <= one.end <= now]
    done = [
        action.verb
        for action in answers.about(episode)
        if not is_standing or all(end <= action.entry.observed_at for end in back)
    ]
    return life_of(
        is_standing=is_standing,
        verbs=done,
        set_aside=aside.level if aside else "",
        is_latched=episode.is_latched,
        is_suppressed=answers.suppresses(episode),
        returned_aside=not is_standing and any(one.is_at(episode.until) for one in held),
    )
