"""What each meter should read now: baselines and recent days, and the run so far."""

from dataclasses import replace
from datetime import datetime

import numpy as np

from health import memory as stored
from health.days import Events, Setup, places
from health.rules.expected import Expected
from health.rules.looks import Look, looks
from health.rules.memory import Memory
from health.rules.sheets import DAY_MIN, Sheets, sheets_of
from health.sheets import rounds_of
from health.spans import Span, standing_span, with_readings
from logbook.times import minute_of
from station.limits import LimitBook
from station.models import Meter

Ahead = tuple[int, str]


def expected_values(book: LimitBook, at: datetime, modulation: str) -> dict[Meter, Expected]:
    """What each meter of a transmitter should read at an instant; one without a baseline is not
    there."""
    minute = minute_of(at)
    day, ahead = minute // DAY_MIN, (minute, modulation)
    events = Events(book)
    setup = events.setup_at(day)
    span = standing_span(book, day * DAY_MIN, minute + 1)
    sheets = sheets_ahead(book, setup, span, ahead)
    if not sheets.minute.size:
        return {}  # not on the air
    known = stored.memory_of_places(
        book.transmitter, setup.channels, day, events.begun_by(day), places(sheets)
    )
    if not known.baselines:
        return {}
    read = with_readings(book, replace(span, until=minute))
    sheets = sheets_ahead(book, setup, read, ahead)
    *_before, last = looks(known, sheets)
    return by_meter(book, known, sheets, last)


def sheets_ahead(book: LimitBook, setup: Setup, span: Span, ahead: Ahead) -> Sheets:
    """The rounds of a span with one that is not read yet."""
    return sheets_of(rounds_of(book, span, ahead=ahead), setup.facts, setup.channels)


def by_meter(book: LimitBook, memory: Memory, sheets: Sheets, look: Look) -> dict[Meter, Expected]:
    """Of the channels that speak in the last round, those of one meter alone."""
    meters = {meter.pk: meter for meter in book.meters}
    is_known = sheets.says[look.row] & ~np.isnan(look.value)
    return {
        meters[memory.channels[column].meter_id]: Expected(
            float(look.value[column]), float(look.sigma[column]), float(look.reach[column])
        )
        for column in np.flatnonzero(is_known)
        if not memory.channels[column].relation
    }
