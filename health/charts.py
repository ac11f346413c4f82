"""Charts as data for the browser: one shared axis, numbers only; the page builds the lines."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import orjson
from django.utils.safestring import SafeString, mark_safe

from health.boards.week import HOURS, WeekBoard, WeekFlag, WeekRow
from health.boards.week_panels import Panel
from health.frames import EDGES
from station.limits import Band
from station.states import ON_AIR_STATES, State

# On which panel a flag of a quantity is marked; others stand in the row's own strip alone.
PANEL_OF = {
    "forward_power": "power",
    "reflected_power": "reflected",
    "anode_current": "balance",
    "grid_current": "balance",
    "filament_voltage": "filaments",
    "temperature_rise": "rise",
    "water_level": "level",
}


def week_payload(board: WeekBoard) -> SafeString:
    """The week's charts as JSON that may stand inside a script element."""
    charts: dict[str, Any] = {}
    strips: dict[str, Any] = {}
    for row in board.rows:
        marks = [(mark(flag), PANEL_OF.get(flag.episode.meter.quantity)) for flag in row.flags]
        charts |= {chart_id(row, panel): chart(row, panel, marks) for panel in row.panels}
        strips[f"{row.transmitter.code}-strip"] = strip(row, [one for one, _panel in marks])
    data = {"hours": HOURS, "days": list(day_links(board)), "charts": charts, "strips": strips}
    return script_safe(orjson.dumps(data, option=orjson.OPT_SERIALIZE_NUMPY))


def script_safe(json: bytes) -> SafeString:
    escaped = json.replace(b"<", b"\\u003C").replace(b">", b"\\u003E").replace(b"&", b"\\u0026")
    return mark_safe(escaped.decode())  # nothing in it can end the script element


def chart_id(row: WeekRow, panel: Panel) -> str:
    return f"{row.transmitter.code}-{panel.key}"


def chart(row: WeekRow, panel: Panel, marks: Sequence[tuple[Any, str | None]]) -> dict[str, Any]:
    """Values of this week and of the week before, a row a trace; limits; the panel's own marks."""
    digits = panel.decimals + 1
    return {
        "code": row.transmitter.code,
        "values": np.array([one.values for one in panel.traces]).round(digits),
        "before": np.array([one.before for one in panel.traces]).round(digits),
        "limits": [*limits(row.bands.get(panel.key))],
        "flags": [one for one, key in marks if key == panel.key],
    }


def limits(band: Band | None) -> Iterator[list[Any]]:
    """[value, 'alarm' or 'warning'] of each limit that there is."""
    for edge in EDGES:
        value = getattr(band, edge) if band else None
        if value is not None:
            yield [value, edge.split("_")[1]]


def mark(flag: WeekFlag) -> dict[str, Any]:
    return {"hour": flag.hour, "words": flag.words, "href": flag.episode.get_absolute_url()}


def strip(row: WeekRow, marks: Sequence[Any]) -> dict[str, Any]:
    """The state as a band with the flags on it."""
    return {
        "code": row.transmitter.code,
        "states": [[span.first_hour, span.last_hour + 1, tone(span.state)] for span in row.states],
        "flags": marks,
    }


def tone(state: str) -> str:
    """How a state is drawn: full, half, cross-hatched, or not at all."""
    if state in ON_AIR_STATES:
        return "on-air"
    if state in {State.TRIPPED, State.RECYCLING, State.ISOLATED}:
        return "trouble"
    return "off" if state in {State.OFF, ""} else "ready"


def day_links(board: WeekBoard) -> Iterator[str]:
    """The part of a sheet's address that names its day."""
    yield from (day.isoformat() for day in board.days)


@dataclass(frozen=True)
class DayFigures:
    """What one trace of a panel read on one day, in words; '' is no reading."""

    day: date
    low: str
    median: str
    high: str


def daily(panel: Panel, days: Sequence[date]) -> list[tuple[str, list[DayFigures]]]:
    """The table of a panel, for those who read rather than look."""
    return [(one.label, day_figures(one.values, days, panel.decimals)) for one in panel.traces]


def day_figures(values: np.ndarray, days: Sequence[date], decimals: int) -> list[DayFigures]:
    by_day = values.reshape(len(days), -1)
    return [figures(day, hours, decimals) for day, hours in zip(days, by_day, strict=True)]


def figures(day: date, hours: np.ndarray, decimals: int) -> DayFigures:
    known = hours[~np.isnan(hours)]
    if not len(known):
        return DayFigures(day, "", "", "")
    low, median, high = np.min(known), np.median(known), np.max(known)
    return DayFigures(day, *(f"{value:.{decimals}f}" for value in (low, median, high)))
