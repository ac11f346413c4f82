"""What else is known while signs stand: aerials, trips, tests, what was done. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from health.rules.channels import Heeds, Weather
from health.rules.consistency import HEAT, REFLECTION
from health.rules.memory import Memory, sigmas_of_rounds
from health.rules.sheets import Sheets
from health.rules.symptom_table import Context

Numbers = npt.NDArray[np.float64]
Rows = npt.NDArray[np.int64]

AERIAL_MOVED, AERIAL_STOOD = 0.5, 0.3
"""An aerial's reflection has moved, and has not, at this part of what a departure wants."""
SOON_MIN = 60
"""So soon after a change of wave a reading is the first of it."""
EARLY_MIN, LATE_MIN, LACKS_SIGMAS, LATE_SHARE = 75, 150, 2.0, 0.5
"""What is early and late in a run, what heat must lack early, and what part of it late at most."""
FEW_TRIPS, OFTEN = 2, 3
"""Trips in a week from which their places are looked at, and that are many."""
CARRIER_SHIFT_PERCENT, HUM_DB = -5.0, 6.0
"""What a tone test must show of carrier shift and of more hum: common practice, no source."""


@dataclass(frozen=True)
class Trip:
    """``was_on_air``: RF stood when it came; else it came as the HT was put on."""

    frequency_khz: float
    is_wet: bool
    was_on_air: bool


def of_sheets(memory: Memory, sheets: Sheets) -> set[Context]:
    """What the rounds of a day tell by themselves."""
    sigmas = sigmas_of_rounds(memory, sheets)
    return {
        *of_aerials(memory, sheets, sigmas),
        *of_warming(memory, sheets, sigmas),
        *of_run(sheets),
    }


def of_aerials(memory: Memory, sheets: Sheets, sigmas: Numbers) -> Iterator[Context]:
    """Whether the reflection of one aerial alone has moved, or that of all that were used."""
    sizes = sigmas / memory.last.far
    aerial = np.array([aerial_of(str(word)) for word in sheets.places[Heeds.AERIAL]])
    for column, one in enumerate(memory.channels):
        if one.relation == REFLECTION and one.weather == Weather.DRY:
            own = sizes[:, column]
            means = [float(own[rows].mean()) for rows in rows_by(aerial, ~np.isnan(own))]
            yield from one_or_every(means)


def aerial_of(place: str) -> str:
    """'6105 A1 200 tap': what stands between the wave and the power."""
    return " ".join(place.split(" ")[1:-2])


def rows_by(words: npt.NDArray[np.str_], is_known: npt.NDArray[np.bool_]) -> list[Rows]:
    return [np.flatnonzero((words == word) & is_known) for word in np.unique(words[is_known])]


def one_or_every(means: Sequence[float]) -> Iterator[Context]:
    moved = sum(mean >= AERIAL_MOVED for mean in means)
    stood = sum(mean <= AERIAL_STOOD for mean in means)
    if len(means) > 1 and moved == len(means):
        yield Context.EVERY_AERIAL
    elif moved == 1 and stood and moved + stood == len(means):
        yield Context.ONE_AERIAL


def of_warming(memory: Memory, sheets: Sheets, sigmas: Numbers) -> Iterator[Context]:
    """Whether less heat than expected is there early in the runs alone: what a meter or a flow
    lacks, it lacks late in a run as well. Before it is late, the days before must do."""
    since = sheets.minute - np.array([sheets.minute[sheets.run == one][0] for one in sheets.run])
    heats = [one.relation == HEAT or one.quantity == "temperature_rise" for one in memory.channels]
    own = sigmas[:, heats]
    early, late = (mean_known(own[rows]) for rows in (since < EARLY_MIN, since >= LATE_MIN))
    if np.isnan(late):
        shifts = memory.last.shift[heats]
        late = mean_known(shifts[shifts != 0])
    if early <= -LACKS_SIGMAS and late >= early * LATE_SHARE:
        yield Context.WHILE_WARMING


def mean_known(values: Numbers) -> float:
    known = values[~np.isnan(values)]
    return float(known.mean()) if known.size else np.nan


def of_run(sheets: Sheets) -> Iterator[Context]:
    """Whether the newest round is the first after a change of wave."""
    first = int(np.argmax(sheets.run == sheets.run[-1]))
    if first > 0 and sheets.minute[-1] - sheets.minute[first] < SOON_MIN:
        yield Context.AFTER_WAVE_CHANGE


def of_trips(trips: Sequence[Trip], waves_used: int) -> Iterator[Context]:
    """What the trips of a week have in common; ``waves_used`` is how many waves it had."""
    if len(trips) >= OFTEN:
        yield Context.TRIPS_OFTEN
    if len(trips) < FEW_TRIPS:
        return
    if not any(one.was_on_air for one in trips):
        yield Context.TRIPS_AT_HT
    elif len({one.frequency_khz for one in trips}) == 1 and waves_used > 1:
        yield Context.TRIPS_ON_ONE_WAVE
    elif all(one.is_wet for one in trips):
        yield Context.TRIPS_WHEN_DAMP


def of_tone_test(carrier_shift_percent: float, hum_db: float) -> Iterator[Context]:
    """Of the newest tone test; NaN what it does not say."""
    if carrier_shift_percent <= CARRIER_SHIFT_PERCENT:
        yield Context.CARRIER_SHIFT
    if hum_db >= HUM_DB:
        yield Context.HUM
