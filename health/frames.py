"""The seam from readings, operating points and limits to the frame that the judge takes."""

from datetime import UTC

import numpy as np
import numpy.typing as npt
import pandas as pd

from health.models import NOTE, WATER_LEVEL
from health.rules.channels import MOVED_BY_RF
from health.rules.sheets import FAST_SETTLING_MIN, grace_of, since_of
from health.spans import Span
from logbook.points import interval_index, points_at
from station.limits import Band, LimitBook, Place, is_live
from station.models.meter import Moves
from station.states import HT_UP, ON_AIR_STATES, State

PLACE_COLUMNS = ["state", "frequency_khz", "power_kw", "set_by"]
EDGES = ["low_alarm", "low_warning", "high_warning", "high_alarm"]
BAND_COLUMNS = [*EDGES, "deadband", "limit_id", "priority", "is_live", "is_vital"]
HT_THERE = HT_UP | {State.RECYCLING, ""}
"""With HT, or about to have it again; where the state is not known, HT may be there."""


def judge_frame(book: LimitBook, span: Span) -> pd.DataFrame:
    """The readings of a span with the limits of their operating points; of what still settles
    after a change nothing is said."""
    readings = span.readings
    if readings.empty:
        return readings.reindex(columns=[*readings.columns, *BAND_COLUMNS])
    settled = readings["value"].mask(is_settling(book, span))
    return with_bands(readings.assign(value=settled), span.standing, book)


def is_settling(book: LimitBook, span: Span) -> npt.NDArray[np.bool_]:
    """Which readings came so soon after a change that limits hold on the one before it: slow
    meters settle for minutes, what RF and HT move for two."""
    minutes = span.readings["minute"].to_numpy()
    points = points_at(span.standing, minutes)
    is_on_air = points["state"].isin(ON_AIR_STATES).to_numpy()
    since = since_of(points)
    grace = grace_of(since, span.rf_ends)
    slow = {meter.pk for meter in book.meters if meter.moves == Moves.SLOW}
    moved = {meter.pk for meter in book.meters if meter.quantity_facts.live in MOVED_BY_RF}
    is_slow = span.readings["meter_id"].isin(slow).to_numpy()
    is_moved = span.readings["meter_id"].isin(moved).to_numpy()
    age = minutes - since
    return is_on_air & ((is_slow & (age < grace)) | (is_moved & (age < FAST_SETTLING_MIN)))


def with_bands(readings: pd.DataFrame, standing: pd.DataFrame, book: LimitBook) -> pd.DataFrame:
    """Each reading with the limits that raise flags: looked up once for every combination."""
    minutes = readings["minute"].to_numpy()
    epochs = np.array([epoch.timestamp() // 60 for epoch in book.epochs])
    places, place_number = distinct_places(standing)
    modulation, modulations = pd.factorize(readings["modulation"])
    place = place_number[interval_index(standing, minutes)]
    epoch = np.searchsorted(epochs, minutes, side="right")
    meter_id = readings["meter_id"].to_numpy()
    key = (meter_id * len(places) + place) * (len(epochs) + 1) + epoch
    key = key * len(modulations) + modulation
    _keys, first, number = np.unique(key, return_index=True, return_inverse=True)
    meters = {meter.pk: meter for meter in book.meters}
    instants = [instant.astimezone(UTC) for instant in book.epochs]
    rows = [
        band_row(
            book,
            meters[meter_id[row]],
            Place(*places[place[row]], modulations[modulation[row]]),
            instants[epoch[row] - 1] if epoch[row] else None,
        )
        for row in first
    ]
    bands = pd.DataFrame(rows, columns=BAND_COLUMNS).take(number).reset_index(drop=True)
    return pd.concat([readings, bands], axis=1)


def distinct_places(standing: pd.DataFrame) -> tuple[list[tuple], npt.NDArray[np.intp]]:
    """The places that occur, and the number of each interval's."""
    of_interval = place_list(standing)
    number = {place: at for at, place in enumerate(dict.fromkeys(of_interval))}
    return list(number), np.array([number[place] for place in of_interval])


def place_list(standing: pd.DataFrame) -> list[tuple]:
    """The places of the intervals; the last one, reached by index -1, is 'nothing known'."""
    known = standing[PLACE_COLUMNS].astype(object)
    tidy = known.where(known.notna(), None).itertuples(index=False, name=None)
    places = [(state or "", wave, power, set_by or "") for state, wave, power, set_by in tidy]
    return [*places, ("", None, None, "")]


def band_row(book: LimitBook, meter, place: Place, epoch) -> tuple:
    band = book.flag_band(meter, place, epoch) if epoch else Band()
    is_vital = meter.quantity == WATER_LEVEL and place.state in HT_THERE
    return (
        *edges(band),
        band.deadband,
        band.limit_id or 0,
        priority_of(band, is_vital=is_vital),
        is_live(meter, place.state),
        is_vital,
    )


def priority_of(band: Band, *, is_vital: bool) -> str:
    """A limit that does not say what to do raises a note, no alarm; what is vital says it here."""
    return band.priority if band.advice or is_vital or not band.limit_id else NOTE


def edges(band: Band) -> tuple[float, ...]:
    """The limits in the order of EDGES, NaN for one that is not set."""
    limits = (getattr(band, edge) for edge in EDGES)
    return tuple(np.nan if limit is None else limit for limit in limits)
