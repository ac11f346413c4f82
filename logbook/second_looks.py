"""What deserves a second look in a round: questions, never refusals, and nothing is changed.

A provider of the port answers ``second_look`` with a list of SecondLook as well.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from logbook.models.round import Bound, Mark, ReadingCode
from logbook.point_words import state_word
from logbook.reading_text import TypedReading
from logbook.reading_words import CODE_LEVELS, MARK_LEVELS, number_text, reading_words
from station.limit_rows import InstrumentVersion
from station.limits import Band, Place, is_live
from station.models import Meter
from station.quantities import HT, QUANTITIES, RF

# What must read nothing in a state in which it is not live; temperatures and levels need not.
DEAD_QUANTITIES = {key for key, facts in QUANTITIES.items() if facts.tap_exponent} | {
    "filament_voltage",
    "filament_current",
}
# A pointer may rest a little off zero: common practice, no source.
REST_OF_SCALE = 0.05
STEP_TOLERANCE = 0.001


@dataclass(frozen=True)
class SecondLook:
    """One question: its level (as drawn), its sentence, the meter or None for the whole round.

    ``offer`` is a text for the cell that may be taken or left.
    """

    level: str
    sentence: str
    meter: Meter | None = None
    offer: str = ""


@dataclass(frozen=True)
class Cell:
    """A reading with all that it is looked at by."""

    meter: Meter
    reading: TypedReading
    band: Band
    instrument: InstrumentVersion | None
    place: Place

    @property
    def is_live(self) -> bool:
        return is_live(self.meter, self.place.state)

    @property
    def words(self) -> str:
        return reading_words(self.reading, self.meter.decimals)


def cell_level(cell: Cell) -> str:
    """The level drawn beside a cell; '' for a blank one."""
    if cell.reading.is_blank:
        return ""
    if cell.reading.code:
        return CODE_LEVELS[cell.reading.code]
    level = limit_level(cell)
    if level or cell.reading.mark:
        return level or MARK_LEVELS[cell.reading.mark]
    if is_off_step(cell) or is_alive_where_dead(cell):
        return "doubtful"
    if is_at_the_bottom(cell):
        return "bottom-of-scale"
    return "normal" if has_limits(cell.band) else "no-reference"


def is_at_the_bottom(cell: Cell) -> bool:
    """Whether the pointer stands where the scale can hardly be read, though not at rest."""
    value, instrument = cell.reading.value, cell.instrument
    if value is None or instrument is None or not cell.is_live:
        return False
    return 0 < abs(value) < instrument.bottom_for(value)


def has_limits(band: Band) -> bool:
    limits = (band.low_alarm, band.low_warning, band.high_warning, band.high_alarm)
    return any(limit is not None for limit in limits)


def limit_level(cell: Cell) -> str:
    """Beyond which limit the cell is; above the scale is at least a warning."""
    if cell.reading.value is None or not cell.is_live:
        return ""
    level = cell.band.level(cell.reading.value, cell.reading.bound)
    return level or ("warning-high" if cell.reading.bound == Bound.ABOVE else "")


def looks_at_cell(cell: Cell) -> list[SecondLook]:
    """The questions about one cell; a confirmed one was looked at twice already."""
    reading = cell.reading
    if reading.code == ReadingCode.TO_RE_READ:
        return [SecondLook("to-re-read", reading.problem, cell.meter)]
    if reading.value is None or reading.mark == Mark.CONFIRMED:
        return []
    looks = [limit_look(cell), step_look(cell)]
    if reading.mark == Mark.DOUBTFUL:
        looks.append(SecondLook("doubtful", _("Marked doubtful when it was read."), cell.meter))
    return [look for look in looks if look]


def limit_look(cell: Cell) -> SecondLook | None:
    level = limit_level(cell)
    if not level:
        return None
    limit = getattr(cell.band, "_".join(reversed(level.split("-"))))
    if limit is None:
        return SecondLook(level, _("Off scale: there is no number."), cell.meter)
    words = {
        "alarm-low": _("At or below the alarm limit %(limit)s %(unit)s."),
        "alarm-high": _("At or above the alarm limit %(limit)s %(unit)s."),
        "warning-low": _("At or below the warning limit %(limit)s %(unit)s."),
        "warning-high": _("At or above the warning limit %(limit)s %(unit)s."),
    }
    shown = {"limit": number_text(round(limit, 6), cell.meter.decimals), "unit": cell.meter.unit}
    advice = f" {cell.band.advice}" if cell.band.advice else ""
    return SecondLook(level, words[level] % shown + advice, cell.meter)


def is_off_step(cell: Cell) -> bool:
    return nearest_step(cell) is not None


def nearest_step(cell: Cell) -> float | None:
    """The nearest mark of the scale when the value is between two; else None."""
    instrument, value = cell.instrument, cell.reading.value
    if instrument is None or value is None or cell.reading.bound:
        return None
    steps = (value - instrument.scale_low) / instrument.step
    if abs(steps - round(steps)) <= STEP_TOLERANCE:
        return None
    return instrument.scale_low + round(steps) * instrument.step


def step_look(cell: Cell) -> SecondLook | None:
    mark = nearest_step(cell)
    if mark is None or cell.instrument is None:
        return None
    offer = number_text(round(mark, 9), cell.meter.decimals)
    sentence = _(
        "This meter is read in steps of %(step)g %(unit)s. If %(value)s was meant as %(offer)s, "
        "take that; what was typed stays readable."
    ) % {
        "step": cell.instrument.step,
        "unit": cell.meter.unit,
        "value": cell.words,
        "offer": offer,
    }
    return SecondLook("doubtful", sentence, cell.meter, offer)


def is_alive_where_dead(cell: Cell) -> bool:
    """A reading that should be nothing in this state, and is not."""
    if cell.is_live or cell.reading.value is None or cell.instrument is None:
        return False
    floor = REST_OF_SCALE * cell.instrument.full_scale
    return cell.meter.quantity in DEAD_QUANTITIES and abs(cell.reading.value) > floor


def is_dead_where_alive(cell: Cell) -> bool:
    """Zero on a meter that HT or RF must move in this state."""
    facts = cell.meter.quantity_facts
    is_moved = facts.live in {HT, RF} and cell.meter.quantity in DEAD_QUANTITIES
    return is_moved and bool(cell.place.state) and cell.is_live and cell.reading.value == 0


def state_looks(cells: Sequence[Cell]) -> list[SecondLook]:
    """One question where the state itself does not fit what was read."""
    alive = [cell for cell in cells if is_alive_where_dead(cell)]
    dead = zeros_that_mean_no_ht(cells)
    looks = []
    if alive:
        looks.append(SecondLook("doubtful", state_sentence(alive, is_dead=False)))
    if dead:
        looks.append(SecondLook("doubtful", state_sentence(dead, is_dead=True)))
    return looks


def zeros_that_mean_no_ht(cells: Sequence[Cell]) -> list[Cell]:
    """Two zeros or more, and at least half of what HT and RF move: the HT was off."""
    dead = [cell for cell in cells if is_dead_where_alive(cell)]
    moved = [
        cell
        for cell in cells
        if cell.meter.quantity_facts.live in {HT, RF}
        and cell.meter.quantity in DEAD_QUANTITIES
        and cell.reading.value is not None
    ]
    return dead if len(dead) >= 2 and 2 * len(dead) >= len(moved) else []


def state_sentence(cells: Sequence[Cell], *, is_dead: bool) -> str:
    names = ", ".join(f"{cell.meter.label} {cell.words}" for cell in cells)
    words = {"state": state_word(cells[0].place.state), "names": names}
    if is_dead:
        return (
            _(
                "The state is '%(state)s', but these read 0: %(names)s. If the HT was off, write "
                "the change of state; a meter that stands still is 'not running', not 0."
            )
            % words
        )
    return (
        ngettext(
            "The state is '%(state)s', but this is read: %(names)s. Write the change of state, or "
            "read again.",
            "The state is '%(state)s', but these are read: %(names)s. Write the change of state, "
            "or read again.",
            len(cells),
        )
        % words
    )


def looks_at_round(cells: Sequence[Cell]) -> list[SecondLook]:
    """Every question about a round: the state first, then by meter in sheet order.

    Where the state explains zeros, the meters are not asked about one by one.
    """
    explained = {cell.meter.pk for cell in zeros_that_mean_no_ht(cells)}
    asked = [cell for cell in cells if cell.meter.pk not in explained]
    return state_looks(cells) + [look for cell in asked for look in looks_at_cell(cell)]
