"""What each meter should read now: baselines and recent days, and the run so far."""

from dataclasses import replace
from datetime import datetime

import numpy as np

from health import memory as stored
from health.days import Events, Setup, places
from health.rules.borrowing import BY_TAP, by_tap
from health.rules.expected import Expected
from health.rules.looks import Look, looks
from health.rules.memory import Memory, baselines_at, place_at
from health.rules.sheets import DAY_MIN, Sheets, sheets_of
from health.sheets import rounds_of
from health.spans import Span, standing_span, with_readings
from logbook.times import minute_of
from station.limits import LimitBook
from station.models import Meter
from station.states import PowerSetBy

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
        book.transmitter, setup.channels, day, events.begun_by(day), with_other_powers(book, sheets)
    )
    if not known.baselines:
        return {}
    read = with_readings(book, replace(span, until=minute))
    sheets = sheets_ahead(book, setup, read, ahead)
    *_before, last = looks(known, sheets)
    return by_meter(book, known, sheets, last)


def with_other_powers(book: LimitBook, sheets: Sheets) -> set[str]:
    """The day's places, and each of them at the transmitter's other powers set by the tap."""
    found = places(sheets)
    taps = book.transmitter.power_levels.filter(set_by=PowerSetBy.TAP)
    powers = [f"{power_kw:g}" for power_kw in taps.values_list("power_kw", flat=True)]
    by_where = {where for where, power_kw in map(by_tap, found) if power_kw}
    return found | {
        f"{where} {power_kw} {BY_TAP}".strip() for where in by_where for power_kw in powers
    }


def sheets_ahead(book: LimitBook, setup: Setup, span: Span, ahead: Ahead) -> Sheets:
    """The rounds of a span with one that is not read yet."""
    return sheets_of(rounds_of(book, span, ahead=ahead), setup.facts, setup.channels)


def by_meter(book: LimitBook, memory: Memory, sheets: Sheets, look: Look) -> dict[Meter, Expected]:
    """Of the channels that speak in the last round, those of one meter alone."""
    meters = {meter.pk: meter for meter in book.meters}
    is_known = sheets.says[look.row] & ~np.isnan(look.value)
    is_borrowed = np.isnan(baselines_at(memory, place_at(sheets, look.row)).centre)
    return {
        meters[memory.channels[column].meter_id]: Expected(
            float(look.value[column]),
            float(look.sigma[column]),
            float(look.reach[column]),
            bool(is_borrowed[column]),
        )
        for column in np.flatnonzero(is_known)
        if not memory.channels[column].relation
    }
