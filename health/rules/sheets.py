"""The rounds of a transmitter as a table: a row a round, a column a channel. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from health.rules.channels import Channel, Heeds, MeterFacts, Programme, Weather
from health.rules.consistency import relation_values

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

DAY_MIN = 24 * 60
FAST_SETTLING_MIN, SETTLING_MIN, COLD_SETTLING_MIN, COLD_AFTER_MIN = 2, 20, 70, 180
"""How long meters settle after the RF came on: what follows at once, slow ones, slow ones after a
night without it, and from which pause on it counts as one: common practice, no source."""
NOWHERE = ""


@dataclass(frozen=True)
class Rounds:
    """What was read, row by row in the order of time, before it is parted into channels.

    Attributes
    ----------
    minute, no : whole minutes since 1970 UTC, entry number
    values : DataFrame, a column a meter id [the meter's unit], NaN where there is no number
    is_confirmed : the same shape; read twice
    modulation : 'on', 'paused', 'carrier'
    is_wet : rain, snow or ice on the aerials
    points : the operating point of each row, as ``logbook.points.points_at`` gives it
    is_on_air : RF on the aerial in that state
    rf_ends : minutes at which the RF went off, from some hours before the first row on
    """

    minute: Whole
    no: Whole
    values: pd.DataFrame
    is_confirmed: pd.DataFrame
    modulation: npt.NDArray[np.str_]
    is_wet: Marks
    points: pd.DataFrame
    is_on_air: Marks
    rf_ends: Whole

    def taken(self, rows: slice) -> "Rounds":
        """Some of the rounds."""
        return Rounds(
            minute=self.minute[rows],
            no=self.no[rows],
            values=self.values.iloc[rows],
            is_confirmed=self.is_confirmed.iloc[rows],
            modulation=self.modulation[rows],
            is_wet=self.is_wet[rows],
            points=self.points.iloc[rows],
            is_on_air=self.is_on_air[rows],
            rf_ends=self.rf_ends,
        )


@dataclass(frozen=True)
class Sheets:
    """Rounds on the air by channel, in the order of time.

    ``values`` and ``is_confirmed`` are rounds x channels, NaN where there is no number; ``says``:
    of which channels programme and weather of the round speak.
    ``places`` is by what a channel heeds, one word a round. ``run`` numbers the stretches in one
    state, ``retune`` is the entry that began the run: what is switched off for a night and not
    tuned again is one run.
    ``is_settling``: slow channels say nothing yet. ``by_meter`` holds the meters' own numbers.
    """

    minute: Whole
    no: Whole
    run: Whole
    retune: Whole
    is_settling: Marks
    values: Numbers
    is_confirmed: Marks
    says: Marks
    places: Mapping[str, npt.NDArray[np.str_]]
    by_meter: pd.DataFrame

    @property
    def day(self) -> Whole:
        return self.minute // DAY_MIN

    def taken(self, rows: slice) -> "Sheets":
        """Some of the rounds."""
        return Sheets(
            minute=self.minute[rows],
            no=self.no[rows],
            run=self.run[rows],
            retune=self.retune[rows],
            is_settling=self.is_settling[rows],
            values=self.values[rows],
            is_confirmed=self.is_confirmed[rows],
            says=self.says[rows],
            places={name: words[rows] for name, words in self.places.items()},
            by_meter=self.by_meter.iloc[rows],
        )

    def days(self) -> list[tuple[int, "Sheets"]]:
        """Day by day, numbered from 1970 UTC."""
        edges = np.flatnonzero(np.diff(self.day, prepend=-1))
        parts = pairwise([*edges, self.minute.size])
        return [(int(self.day[begin]), self.taken(slice(begin, end))) for begin, end in parts]


def joined(parts: Sequence[Sheets]) -> Sheets:
    """Sheets of the same channels that follow each other as one."""
    arrays = {
        one.name: np.concatenate([getattr(part, one.name) for part in parts])
        for one in fields(Sheets)
        if one.name not in ("places", "by_meter")
    }
    return Sheets(
        **arrays,
        places={
            name: np.concatenate([part.places[name] for part in parts]) for name in parts[0].places
        },
        by_meter=pd.concat([part.by_meter for part in parts]),
    )


def sheets_of(
    rounds: Rounds, meters: Mapping[int, MeterFacts], channels: Sequence[Channel]
) -> Sheets:
    """Part the rounds on the air into channels."""
    is_settling = settling(rounds)
    run = rounds.points.groupby(["run", "since"], dropna=False).ngroup().to_numpy()
    rows = np.flatnonzero(rounds.is_on_air)
    by_meter = rounds.values.iloc[rows]
    table = channel_table(by_meter, meters, channels)
    confirmed = confirmed_table(rounds.is_confirmed.iloc[rows], channels)
    says = says_table(rounds, channels)[rows]
    return Sheets(
        minute=rounds.minute[rows],
        no=rounds.no[rows],
        run=run[rows],
        retune=rounds.points["run"].to_numpy()[rows],
        is_settling=is_settling[rows],
        values=np.where(says, table, np.nan),
        is_confirmed=confirmed & says,
        says=says,
        places={name: words[rows] for name, words in place_words(rounds).items()},
        by_meter=by_meter,
    )


def channel_table(
    by_meter: pd.DataFrame, meters: Mapping[int, MeterFacts], channels: Sequence[Channel]
) -> Numbers:
    of_meter = columns_of(by_meter)
    columns = [
        relation_values(one.relation, of_meter, [meters[key] for key in one.meter_ids])
        if one.relation
        else of_meter[one.meter_id]
        for one in channels
    ]
    return np.column_stack(columns) if columns else np.empty((len(by_meter), 0))


def columns_of(table: pd.DataFrame) -> dict[int, npt.NDArray[Any]]:
    """The columns of a table by name: one by one out of the frame they cost more than the sums."""
    return dict(zip(table.columns, table.to_numpy().T, strict=True))


def confirmed_table(is_confirmed: pd.DataFrame, channels: Sequence[Channel]) -> Marks:
    """A relation is confirmed when any of its meters is."""
    of_meter = columns_of(is_confirmed)
    columns = [np.any([of_meter[key] for key in one.meter_ids], axis=0) for one in channels]
    return np.column_stack(columns) if columns else np.empty((len(is_confirmed), 0), dtype=bool)


def says_table(rounds: Rounds, channels: Sequence[Channel]) -> Marks:
    """Which channels the programme and the weather of each row speak of."""
    is_paused = rounds.modulation == "paused"
    is_carrier = rounds.modulation == "carrier"
    fast_on, slow_on = ~(is_paused | is_carrier), ~is_carrier
    always = np.ones(rounds.minute.size, dtype=bool)
    by_weather = {Weather.ANY: always, Weather.DRY: ~rounds.is_wet, Weather.WET: rounds.is_wet}
    columns = []
    for one in channels:
        on = slow_on if one.is_slow else fast_on
        by_programme = {Programme.ANY: always, Programme.ON: on, Programme.CARRIER: ~on}
        columns.append(by_programme[one.programme] & by_weather[one.weather])
    return np.column_stack(columns)


def place_words(rounds: Rounds) -> dict[str, npt.NDArray[np.str_]]:
    """The operating point of each row as far as a channel heeds it, as one word."""
    points = rounds.points
    khz, power, set_by, aerial = (
        words_of(points[name]) for name in ("frequency_khz", "power_kw", "set_by", "antenna")
    )
    level = power + " " + set_by
    wave = khz + " " + aerial + " " + level
    return {
        Heeds.NOTHING: np.full(len(points), NOWHERE, dtype=object),
        Heeds.POWER: level,
        Heeds.WAVE: wave,
        # Rain is the same on every wave of an aerial, and seldom: its readings stand together.
        Heeds.AERIAL: np.where(rounds.is_wet, aerial + " " + level, wave),
    }


def words_of(column: pd.Series) -> npt.NDArray[np.object_]:
    """Each value as a word, '' where it is not known."""
    return np.array(
        ["" if pd.isna(one) else one if isinstance(one, str) else f"{one:g}" for one in column],
        dtype=object,
    )


def settling(rounds: Rounds) -> Marks:
    """Rows so soon after the RF came on that slow meters have not settled."""
    since = since_of(rounds.points)
    return np.asarray(rounds.minute - since < grace_of(since, rounds.rf_ends))


def since_of(points: pd.DataFrame) -> Whole:
    """When the state of each row began, in minutes."""
    since = points["since"].dt.tz_localize(None).to_numpy("datetime64[m]")
    return np.asarray(since.astype(np.int64))


def rf_ends_of(standing: pd.DataFrame, is_on_air: Marks) -> Whole:
    """The minutes at which the RF went off, of the operating points from change to change."""
    at = standing["observed_at"].dt.tz_localize(None).to_numpy("datetime64[m]").astype(np.int64)
    return np.asarray(at[1:][is_on_air[:-1] & ~is_on_air[1:]])


def grace_of(since: Whole, rf_ends: Whole) -> Whole:
    """Minutes for which slow meters settle after a state that began at ``since``; longer after a
    pause without RF: after a night all is cold."""
    ends = np.append(-COLD_AFTER_MIN, rf_ends)
    last = ends[np.searchsorted(rf_ends, since, side="right")]
    return np.where(since - last > COLD_AFTER_MIN, COLD_SETTLING_MIN, SETTLING_MIN)
