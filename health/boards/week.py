"""The week of the whole station: a row a transmitter, its small charts, flags and states."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd

from health.boards.week_panels import Hours, Panel, WeekOfMeters, panels_of
from health.boards.week_review import WEEK, Review, Reviewed
from health.models import Episode
from health.words import flag_words
from logbook.frames import number_table, standing_points_of_all
from logbook.models import Correction, Signature
from logbook.points import points_at
from logbook.times import minute_of
from station.limits import Band, LimitBook, Place, limit_books
from station.models import Station, Transmitter
from station.states import ON_AIR_STATES, Modulation

HOURS = 168
HOUR_MIN = 60
PLACE_NUMBERS = ("frequency_khz", "power_kw")
QUANTITIES = (
    *("forward_power", "reflected_power", "ht_voltage", "anode_voltage", "anode_current"),
    *("grid_current", "filament_voltage", "temperature_rise", "water_level"),
)


@dataclass(frozen=True)
class WeekFlag:
    """A flag of the week, at the hour of the week at which it began (0 if before)."""

    episode: Episode
    words: str
    hour: int


@dataclass(frozen=True)
class StateSpan:
    state: str
    first_hour: int
    last_hour: int


@dataclass(frozen=True)
class WeekRow:
    transmitter: Transmitter
    panels: tuple[Panel, ...]
    bands: Mapping[str, Band]
    flags: tuple[WeekFlag, ...]
    states: tuple[StateSpan, ...]


@dataclass(frozen=True)
class WeekBoard:
    """``since`` is a Monday 00:00 UTC; ``days`` its seven days."""

    since: datetime
    until: datetime
    days: tuple[date, ...]
    rows: tuple[WeekRow, ...]
    review: Review
    made_at: datetime
    signature: Signature | None
    corrected_after: tuple[int, ...]

    @property
    def is_to_be_signed(self) -> bool:
        """Not signed, or written about since."""
        return not self.signature or bool(self.corrected_after) or self.review.is_decided_after

    @property
    def before(self) -> date:
        return (self.since - WEEK).date()

    @property
    def after(self) -> date | None:
        return self.until.date() if self.until <= self.made_at else None


def week_begin(instant: datetime) -> datetime:
    """The Monday 00:00 UTC of the week of an instant in UTC."""
    midnight = instant.replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight - timedelta(days=instant.weekday())


def build_week(station: Station, since: datetime, now: datetime) -> WeekBoard:
    """As many queries for three transmitters as for twelve."""
    until = since + WEEK
    books = limit_books(station)
    transmitters = [book.transmitter for book in books]
    values = hourly(books, since)
    reviewed = Reviewed(station, since, now)
    standing = standing_points_of_all(transmitters, min(since - WEEK, reviewed.looked_from))
    flags = flags_of_week(station, since, until)
    signature = reviewed.signature
    rows = tuple(
        week_row(book, values, standing[book.transmitter.pk], flags, since, min(now, until))
        for book in books
    )
    return WeekBoard(
        since=since,
        until=until,
        days=tuple((since + timedelta(days=number)).date() for number in range(7)),
        rows=rows,
        review=reviewed.review(transmitters, standing),
        made_at=now,
        signature=signature,
        corrected_after=tuple(corrected_after(signature, since, until)) if signature else (),
    )


def corrected_after(signature: Signature, since: datetime, until: datetime) -> Iterable[int]:
    """The numbers of the corrections of this week's entries that were written after it."""
    later = Correction.objects.filter(
        station=signature.station_id,
        entry__no__gt=signature.up_to_no,
        of__observed_at__gte=since,
        of__observed_at__lt=until,
    )
    return later.order_by("entry__no").values_list("entry__no", flat=True)


def hourly(books: Iterable[LimitBook], since: datetime) -> dict[int, Hours]:
    """Two weeks of hours by meter, NaN where nothing was read; the last reading of an hour.

    An off-scale reading is a hole: its number is a bound, not what was read.
    """
    ids = sorted(
        meter.pk for book in books for meter in book.meters if meter.quantity in QUANTITIES
    )
    first = minute_of(since - WEEK)
    table, is_off_scale = number_table(ids, first, first + 2 * HOURS * HOUR_MIN)
    table[is_off_scale, 2] = np.nan
    table = table[np.lexsort((table[:, 1], table[:, 0]))]
    hour = ((table[:, 1] - first) // HOUR_MIN).astype(int)
    grid = np.full((len(ids), 2 * HOURS), np.nan)
    grid[np.searchsorted(ids, table[:, 0]), hour] = table[:, 2]
    return dict(zip(ids, grid, strict=True))


def flags_of_week(station: Station, since: datetime, until: datetime) -> dict[int, list[Episode]]:
    by_transmitter: dict[int, list[Episode]] = defaultdict(list)
    episodes = Episode.objects.filter(station=station)
    for episode in episodes.touching(minute_of(since), minute_of(until)).select_related(
        "meter", "transmitter"
    ):
        by_transmitter[episode.transmitter_id].append(episode)
    return by_transmitter


def week_row(
    book: LimitBook,
    values: Mapping[int, Hours],
    standing: pd.DataFrame,
    flags: Mapping[int, Sequence[Episode]],
    since: datetime,
    known_until: datetime,
) -> WeekRow:
    panels = panels_of(WeekOfMeters(book.meters, values, HOURS))
    place = usual_place(standing, known_until)
    return WeekRow(
        transmitter=book.transmitter,
        panels=panels,
        bands={
            panel.key: book.band(panel.meter, place, known_until)
            for panel in panels
            if panel.meter is not None and place is not None
        },
        flags=tuple(week_flag(one, since) for one in flags.get(book.transmitter.pk, ())),
        states=tuple(state_spans(standing, since, known_until)),
    )


def usual_place(standing: pd.DataFrame, until: datetime) -> Place | None:
    """The last operating point on air: the one whose limits are drawn."""
    on_air = standing[standing["state"].isin(ON_AIR_STATES) & (standing["observed_at"] <= until)]
    if on_air.empty:
        return None
    last = on_air.iloc[-1]
    wave, power = (None if pd.isna(last[name]) else float(last[name]) for name in PLACE_NUMBERS)
    return Place(last["state"], wave, power, last["set_by"] or "", Modulation.ON)


def week_flag(episode: Episode, since: datetime) -> WeekFlag:
    hour = (episode.since_minute - minute_of(since)) // HOUR_MIN
    return WeekFlag(episode, flag_words(episode), max(0, hour))


def state_spans(standing: pd.DataFrame, since: datetime, until: datetime) -> list[StateSpan]:
    """The state at each full hour of the week so far, as spans of equal hours."""
    hours = int((until - since) // timedelta(hours=1))
    minutes = minute_of(since) + HOUR_MIN * np.arange(hours, dtype=np.int64)
    states = points_at(standing, minutes)["state"].fillna("").to_list()
    spans: list[StateSpan] = []
    for hour, state in enumerate(states):
        if spans and spans[-1].state == state:
            spans[-1] = StateSpan(state, spans[-1].first_hour, hour)
        else:
            spans.append(StateSpan(state, hour, hour))
    return spans
