"""A span of a transmitter's log, read once for all rules."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from health.rules.sheets import rf_ends_of
from logbook.frames import READING_COLUMNS, reading_frame, standing_points
from logbook.times import instant_of
from station.limits import LimitBook
from station.states import ON_AIR_STATES

LEAD_MIN = 6 * 60
"""How long before a span its states are asked for: what settles, settles from there on."""


@dataclass(frozen=True)
class Span:
    """Current readings of begin <= minute < until, and the operating points of that time."""

    readings: pd.DataFrame
    standing: pd.DataFrame
    begin: int
    until: int

    @property
    def rf_ends(self) -> npt.NDArray[np.int64]:
        is_on_air = self.standing["state"].isin(ON_AIR_STATES).to_numpy()
        return rf_ends_of(self.standing, is_on_air)


def read_span(book: LimitBook, begin: int, until: int) -> Span:
    return with_readings(book, standing_span(book, begin, until))


def standing_span(book: LimitBook, begin: int, until: int) -> Span:
    """A span whose readings are not asked for yet."""
    since = instant_of(max(begin - LEAD_MIN, 0))
    nothing = pd.DataFrame(columns=READING_COLUMNS)
    return Span(nothing, standing_points(book.transmitter, since, instant_of(until)), begin, until)


def with_readings(book: LimitBook, span: Span) -> Span:
    meter_ids = [meter.pk for meter in book.meters]
    read = reading_frame(book.transmitter, meter_ids, span.begin, span.until)
    return replace(span, readings=read)
