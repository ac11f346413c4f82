"""One transmitter of the demo station as the judge knows it, and its rounds as written."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from fixtures.generator import History
from health.rules.channels import Channel, MeterFacts
from health.rules.sheets import DAY_MIN, Rounds, rf_ends_of
from health.sheets import channels_at, meter_facts
from logbook.points import points_at
from logbook.times import instant_of
from station.limits import LimitBook
from station.states import ON_AIR_STATES


@dataclass(frozen=True)
class Plant:
    """One transmitter as the judge knows it."""

    code: str
    book: LimitBook
    facts: dict[int, MeterFacts]
    channels: tuple[Channel, ...]


def plant_of(book: LimitBook, minute: int) -> Plant:
    facts = meter_facts(book, instant_of(minute))
    return Plant(book.transmitter.code, book, facts, channels_at(facts))


def rounds_of(
    made: History, plant: Plant, readings: pd.DataFrame, standing: pd.DataFrame
) -> Rounds:
    """The rounds of a transmitter with these readings, as its people wrote them."""
    told = made.rounds[made.rounds["transmitter"] == plant.code].reset_index(drop=True)
    minute = minutes(told["observed_at"])
    points = points_at(standing, minute)
    columns = {one.code: key for key, one in plant.facts.items()}
    values = readings[list(columns)].set_axis(list(columns.values()), axis=1).astype(float)
    return Rounds(
        minute=minute,
        no=np.arange(1, minute.size + 1),
        values=values,
        is_confirmed=pd.DataFrame(False, index=values.index, columns=values.columns),
        modulation=told["modulation"].to_numpy(dtype=object),
        is_wet=(told["weather"] == "wet").to_numpy(),
        points=points,
        is_on_air=points["state"].isin(ON_AIR_STATES).to_numpy(),
        rf_ends=rf_ends_of(standing, standing["state"].isin(ON_AIR_STATES).to_numpy()),
    )


def minutes(instants: pd.Series) -> npt.NDArray[np.int64]:
    return instants.dt.tz_localize(None).to_numpy("datetime64[m]").astype(np.int64)


def changes(made: History, code: str) -> pd.DataFrame:
    """The changes of state as the log holds them."""
    own = made.states[made.states["transmitter"] == code].reset_index(drop=True)
    words = ["state", "antenna", "coil_set", "set_by"]
    tidy = own.assign(no=own.index + 1, frequency_khz=own["frequency_khz"].astype(float))
    as_objects = tidy[words].astype(object)
    return tidy.assign(**as_objects.where(as_objects.notna() & (as_objects != ""), None))


def tube_days(made: History, plant: Plant) -> dict[int, list[tuple[str, str]]]:
    """Stage and socket of the tubes changed, by day."""
    stages = {one.socket: one.stage for one in plant.facts.values() if one.socket}
    works = made.works
    own = works[(works["transmitter"] == plant.code) & (works["kind"] == "tube_change")]
    found: dict[int, list[tuple[str, str]]] = {}
    for minute, socket in zip(minutes(own["observed_at"]), own["socket"].str.upper(), strict=True):
        found.setdefault(int(minute) // DAY_MIN, []).append((stages.get(socket, ""), socket))
    return found
