"""The seam from readings, operating points and limits to the frame that the judge takes."""

from datetime import UTC

import numpy as np
import pandas as pd

from logbook.frames import reading_frame, standing_points
from logbook.points import interval_index
from logbook.times import instant_of
from station.limits import Band, LimitBook, Place, is_live

PLACE_COLUMNS = ["state", "frequency_khz", "power_kw", "set_by"]
EDGES = ["low_alarm", "low_warning", "high_warning", "high_alarm"]
BAND_COLUMNS = [*EDGES, "deadband", "limit_id", "priority", "is_live"]


def judge_frame(book: LimitBook, since: int, until: int) -> pd.DataFrame:
    """Current readings of since <= minute < until with the limits of their operating points."""
    meter_ids = [meter.pk for meter in book.meters]
    readings = reading_frame(book.transmitter, meter_ids, since, until)
    if readings.empty:
        return readings.reindex(columns=[*readings.columns, *BAND_COLUMNS])
    standing = standing_points(book.transmitter, instant_of(since), instant_of(until))
    return with_bands(readings, standing, book)


def with_bands(readings: pd.DataFrame, standing: pd.DataFrame, book: LimitBook) -> pd.DataFrame:
    """Each reading with its limits: looked up once for every combination that occurs."""
    minutes = readings["minute"].to_numpy()
    epochs = np.array([epoch.timestamp() // 60 for epoch in book.epochs])
    combinations = pd.DataFrame(
        {
            "meter_id": readings["meter_id"],
            "interval": interval_index(standing, minutes),
            "epoch": np.searchsorted(epochs, minutes, side="right"),
            "modulation": readings["modulation"],
        }
    )
    number, occurring = pd.factorize(pd.MultiIndex.from_frame(combinations))
    places = place_list(standing)
    meters = {meter.pk: meter for meter in book.meters}
    instants = [instant.astimezone(UTC) for instant in book.epochs]
    rows = [
        band_row(
            book,
            meters[meter_id],
            Place(*places[interval], modulation),
            instants[epoch - 1] if epoch else None,
        )
        for meter_id, interval, epoch, modulation in occurring
    ]
    bands = pd.DataFrame(rows, columns=BAND_COLUMNS).take(number).reset_index(drop=True)
    return pd.concat([readings, bands], axis=1)


def place_list(standing: pd.DataFrame) -> list[tuple]:
    """The places of the intervals; the last one, reached by index -1, is 'nothing known'."""
    known = standing[PLACE_COLUMNS].astype(object)
    tidy = known.where(known.notna(), None).itertuples(index=False, name=None)
    places = [(state or "", wave, power, set_by or "") for state, wave, power, set_by in tidy]
    return [*places, ("", None, None, "")]


def band_row(book: LimitBook, meter, place: Place, epoch) -> tuple:
    band = book.band(meter, place, epoch) if epoch else Band()
    return (
        *edges(band),
        band.deadband,
        band.limit_id or 0,
        band.priority,
        is_live(meter, place.state),
    )


def edges(band: Band) -> tuple[float, ...]:
    """The limits in the order of EDGES, NaN for one that is not set."""
    limits = (getattr(band, edge) for edge in EDGES)
    return tuple(np.nan if limit is None else limit for limit in limits)
