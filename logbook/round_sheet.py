"""The board of the page on which a round is typed: every cell with what it is read against."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import pandas as pd
from django.forms import BoundField
from django.utils.translation import gettext as _

from logbook import port
from logbook.earlier_rounds import (
    EarlierReading,
    EarlierRound,
    EarlierValue,
    earlier_readings,
    earlier_rounds,
)
from logbook.forms.round import RoundForm, scale_of
from logbook.frames import standing_points
from logbook.models import Round, RoundKind
from logbook.point_words import PointWords, place_of, point_words
from logbook.points import point_at, points_by_minute
from logbook.reading_text import TypedReading
from logbook.second_looks import (
    DEAD_QUANTITIES,
    REST_OF_SCALE,
    Cell,
    SecondLook,
    cell_level,
    has_limits,
    looks_at_round,
)
from logbook.services.rounds import counting_round
from logbook.sheet_hints import Hint, expected_words, hints_by_meter, look_facts
from logbook.slots import late_minutes, slot_text, slots_of_day
from logbook.times import MINUTE, instant_of, minute_of
from station.limit_rows import InstrumentVersion
from station.limits import LimitBook
from station.models import Meter, Transmitter
from station.models.meter import Occasion
from station.states import Modulation

EDGES = ("low_alarm", "low_warning", "normal", "high_warning", "high_alarm")


@dataclass(frozen=True)
class BandTexts:
    """The limits as they stand on the sheet, '' for none; ``note`` says why there are none."""

    low_alarm: str
    low_warning: str
    normal: str
    high_warning: str
    high_alarm: str
    note: str


@dataclass(frozen=True)
class SheetRow:
    """One meter of the sheet. ``facts`` are what the browser marks by, as JSON; ``look`` are the
    attributes by which it asks about a doubtful value, none without a reference."""

    meter: Meter
    field: BoundField
    band: BandTexts
    facts: str
    look: tuple[tuple[str, str], ...]
    earlier: tuple[tuple[EarlierRound, EarlierValue | None], ...]
    level: str
    sentences: tuple[str, ...]
    expected: str
    is_once_a_shift: bool


@dataclass(frozen=True)
class SheetGroup:
    title: str
    seen: BoundField
    rows: tuple[SheetRow, ...]


@dataclass(frozen=True)
class SlotChoice:
    clock: str
    slot: datetime


@dataclass(frozen=True)
class RoundSheet:
    """All that the page shows beside its form."""

    transmitter: Transmitter
    slot: datetime
    slots: tuple[SlotChoice, ...]
    point: PointWords
    earlier: tuple[EarlierRound, ...]
    groups: tuple[SheetGroup, ...]
    looks: tuple[SecondLook, ...]
    held_by: Round | None
    late_minutes: int
    slot_text: str
    is_fresh: bool
    is_judging_missing: bool


def round_sheet(form: RoundForm, *, slot: datetime, interval_min: int) -> RoundSheet:
    """The board for what the form holds now."""
    transmitter = form.book.transmitter
    readings = earlier_readings(transmitter, slot)
    standing = standing_for(form, readings)
    cells = sheet_cells(form, form.typed(), standing)
    looks = looks_at_round([cell for cell in cells.values() if not cell.reading.is_blank])
    hints = port.hints(form.book, form.observed_at)
    earlier = earlier_rounds(form.book, readings, standing)
    return RoundSheet(
        transmitter=transmitter,
        slot=slot,
        slots=slot_choices(slot, interval_min),
        point=point_words(point_at(standing, minute_of(form.observed_at))),
        earlier=earlier,
        groups=sheet_groups(form, cells, looks, earlier, hints or {}),
        looks=tuple(look for look in looks if look.meter is None),
        held_by=counting_round(transmitter, slot, RoundKind.ROUTINE),
        late_minutes=late_minutes(slot, form.observed_at, transmitter.station.late_after_min),
        slot_text=slot_text(slot),
        is_fresh=not form.is_bound,
        is_judging_missing=port.is_provided() and hints is None,
    )


def slot_choices(slot: datetime, interval_min: int) -> tuple[SlotChoice, ...]:
    slots = {slot, *slots_of_day(slot.date(), interval_min)}
    return tuple(SlotChoice(f"{one:%H:%M}", one) for one in sorted(slots))


def standing_for(form: RoundForm, earlier: Sequence[EarlierReading]) -> pd.DataFrame:
    """The operating points from the earliest value shown to the last group read."""
    instants = [form.observed_at, *(form.observed_at_of(meter) for meter in form.meters)]
    since = min([*instants, *(instant_of(reading.minute) for reading in earlier)])
    return standing_points(form.book.transmitter, since, max(instants) + MINUTE)


def sheet_cells(
    form: RoundForm, typed: Mapping[Meter, TypedReading], standing: pd.DataFrame
) -> dict[Meter, Cell]:
    """Every meter's cell at the operating point of its own minute."""
    modulation = shown_modulation(form)
    minutes = {meter: minute_of(form.observed_at_of(meter)) for meter in form.meters}
    points = points_by_minute(standing, minutes.values())
    cells = {}
    for meter in form.meters:
        at, place = form.observed_at_of(meter), place_of(points[minutes[meter]], modulation)
        band, instrument = form.book.band(meter, place, at), form.book.instrument(meter, at)
        cells[meter] = Cell(meter, typed.get(meter, TypedReading()), band, instrument, place)
    return cells


def shown_modulation(form: RoundForm) -> str:
    value = form["modulation"].value()
    return value if value in Modulation.values else form.book.transmitter.default_modulation


def sheet_groups(
    form: RoundForm,
    cells: Mapping[Meter, Cell],
    looks: Sequence[SecondLook],
    earlier: Sequence[EarlierRound],
    hints: Mapping[str, Any],
) -> tuple[SheetGroup, ...]:
    known = hints_by_meter(cells, hints)
    rows = {
        meter: sheet_row(form, cell, looks, earlier, known.get(meter))
        for meter, cell in cells.items()
    }
    return tuple(
        SheetGroup(
            title=group,
            seen=form[f"seen-{number}"],
            rows=tuple(row for meter, row in rows.items() if meter.panel_group == group),
        )
        for number, group in enumerate(form.groups)
    )


def sheet_row(
    form: RoundForm,
    cell: Cell,
    looks: Sequence[SecondLook],
    earlier: Sequence[EarlierRound],
    hint: Hint | None,
) -> SheetRow:
    field = form[f"cell-{cell.meter.code}"]
    asked = [look.sentence for look in looks if look.meter == cell.meter]
    return SheetRow(
        meter=cell.meter,
        field=field,
        band=band_texts(cell),
        facts=json.dumps(browser_facts(form.book, cell, form.observed_at_of(cell.meter))),
        look=look_facts(hint, cell) if hint else (),
        earlier=tuple((column, column.values.get(cell.meter.pk)) for column in earlier),
        level=cell_level(cell),
        sentences=(*field.errors, *asked),
        expected=expected_words(hint, cell.meter),
        is_once_a_shift=cell.meter.occasion == Occasion.SHIFT,
    )


def band_texts(cell: Cell) -> BandTexts:
    texts = {edge: edge_text(getattr(cell.band, edge), cell.meter) for edge in EDGES}
    if not cell.is_live:
        return BandTexts(**texts, note=_("not judged in this state"))
    return BandTexts(**texts, note="" if has_limits(cell.band) else _("no limits here"))


def edge_text(value: float | None, meter: Meter) -> str:
    """A limit that was scaled has no more digits than the meter."""
    return "" if value is None else f"{value:.{meter.decimals}f}"


def browser_facts(book: LimitBook, cell: Cell, at: datetime) -> dict[str, Any]:
    """Numbers for the browser's instant marks; the server judges again when it saves."""
    scale = scale_of(book, cell.meter, at)
    is_dead = not cell.is_live and cell.meter.quantity in DEAD_QUANTITIES
    bands = {
        modulation: book.band(cell.meter, replace(cell.place, modulation=modulation), at)
        for modulation in Modulation.values
    }
    return {
        "bands": {name: [getattr(band, edge) for edge in EDGES] for name, band in bands.items()},
        "low": scale.low if scale else None,
        "full": scale.full if scale else None,
        "step": cell.instrument.step if cell.instrument else None,
        "unit": cell.meter.unit,
        "decimals": cell.meter.decimals,
        "floor": REST_OF_SCALE * scale.full if scale and is_dead else None,
        "live": cell.is_live,
        "bottoms": scale_bottoms(cell.instrument),
    }


def scale_bottoms(instrument: InstrumentVersion | None) -> list[tuple[float, float]]:
    """Each range's full scale, and below what it can hardly be read."""
    if instrument is None:
        return []
    ranges = (instrument.lower_full_scale, instrument.full_scale)
    return [(full, instrument.bottom_for(full)) for full in ranges if full is not None]
