"""What each meter of a round sheet should read, as health answers: in words, for the browser."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from logbook.second_looks import Cell
from station.limits import limit_modulation
from station.models import Meter
from station.models.meter import Moves
from station.states import Modulation


@dataclass(frozen=True)
class Hint:
    """What a meter should read, with one sigma, and how far from it a value is asked about.

    ``pair`` is the field of the next meter of its quantity and stage, '' where there is none;
    ``is_borrowed``: by the law of power from another power.
    """

    value: float
    sigma: float
    reach: float
    pair: str = ""
    is_borrowed: bool = False


def hints_by_meter(cells: Mapping[Meter, Cell], hints: Mapping[str, Any]) -> dict[Meter, Hint]:
    """What was answered, in the order of the sheet, each with the field of its pair."""
    answers = {meter: hints.get(meter.code) for meter in cells}
    known = {
        meter: Hint(answer.value, answer.sigma, answer.reach, is_borrowed=answer.is_borrowed)
        for meter, answer in answers.items()
        if answer is not None
    }
    pairs = next_alike(list(known))
    return {meter: replace(hint, pair=pairs.get(meter, "")) for meter, hint in known.items()}


def step_of(cell: Cell) -> float:
    return cell.instrument.step if cell.instrument else 10.0**-cell.meter.decimals


def next_alike(meters: Sequence[Meter]) -> dict[Meter, str]:
    """To each meter the field of the next of its quantity and stage: two that are exchanged."""
    found, last = {}, dict[tuple[str, int | None], str]()
    for meter in reversed(meters):
        kind = meter.quantity, meter.stage_id
        if kind in last:
            found[meter] = last[kind]
        last[kind] = f"cell-{meter.code}"
    return found


def look_facts(hint: Hint, cell: Cell) -> tuple[tuple[str, str], ...]:
    """Names and texts of ``data-`` attributes: numbers as a program reads them, in no language."""
    meter = cell.meter
    facts = {
        "expected": repr(float(hint.value)),
        "sigma": repr(float(hint.sigma)),
        "reach": repr(float(hint.reach)),
        "step": repr(float(step_of(cell))),
        "decimals": str(meter.decimals),
        "unit": meter.unit,
        "programmes": " ".join(programmes_alike(meter)),
        "inverse": "1" if meter.quantity == "conductivity" else "",
        "power": "1" if meter.quantity_facts.tap_exponent == 1 else "",
        "pair": hint.pair,
    }
    return tuple((name, text) for name, text in facts.items() if text)


def programmes_alike(meter: Meter) -> list[str]:
    """The programmes with which a meter reads as with the transmitter's own, of which the
    expected values speak."""
    if meter.moves == Moves.NONE:
        return list(Modulation.values)
    own = limit_modulation(meter, meter.transmitter.default_modulation)
    return [one for one in Modulation.values if limit_modulation(meter, one) == own]


def expected_words(hint: Hint | None, meter: Meter) -> str:
    """'12.40 ± 0.08', or '' where there is no reference yet."""
    if hint is None:
        return ""
    words = f"{hint.value:.{meter.decimals}f} ± {hint.sigma:.2g}"
    return _("%(words)s, by another power") % {"words": words} if hint.is_borrowed else words
