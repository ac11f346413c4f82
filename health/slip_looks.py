"""Questions about a round that was typed: slips of the hand, and one cause for many values."""

from collections.abc import Iterator, Mapping
from itertools import pairwise

from django.utils.translation import gettext as _

from health.rules.expected import Expected
from health.rules.slips import (
    DECIMAL,
    DIGIT,
    INVERSE,
    TURNED,
    Slip,
    common_ratio,
    is_far,
    is_swapped,
    slip_of,
)
from health.sheets import step_of
from logbook.models.round import Mark
from logbook.reading_text import TypedReading
from logbook.second_looks import SecondLook
from logbook.services.rounds import RoundDraft
from station.limits import LimitBook
from station.models import Meter

KINDS = {
    DECIMAL: lambda: _("is the decimal point in its place?"),
    TURNED: lambda: _("two digits turned round?"),
    DIGIT: lambda: _("one digit wrong?"),
    INVERSE: lambda: _("the inverse of it, resistivity and conductivity exchanged?"),
}


def looks_at_draft(
    draft: RoundDraft, book: LimitBook, known: Mapping[Meter, Expected]
) -> Iterator[SecondLook]:
    """One question for the whole round where one ratio explains it, else one a value."""
    values = {
        meter: cell.value
        for meter, cell in draft.typed.items()
        if meter in known and is_open(cell) and cell.value is not None
    }
    steps = {meter: step_of(book, meter, draft.observed_at) for meter in values}
    ratio = common_ratio(list(ratios(values, known)))
    if ratio is not None:
        yield SecondLook("doubtful", ratio_sentence(ratio))
        return
    swapped = list(swapped_pairs(values, known))
    for first, second in swapped:
        facts = {"first": first.label, "second": second.label}
        sentence = _("%(first)s and %(second)s each fit the other's place: exchanged?") % facts
        yield SecondLook("doubtful", sentence, first)
    asked = {meter for pair in swapped for meter in pair}
    for meter, value in values.items():
        if meter not in asked and is_far(value, known[meter]):
            yield look_at(meter, value, known[meter], steps[meter])


def is_open(cell: TypedReading) -> bool:
    """Whether there is something to ask: a number on the scale that was not read twice."""
    return not cell.bound and cell.mark != Mark.CONFIRMED


def look_at(meter: Meter, value: float, expected: Expected, step_size: float) -> SecondLook:
    is_water = meter.quantity == "conductivity"
    slip = slip_of(value, meter.decimals, expected, step_size, is_inverse_unit=is_water)
    offer = "" if slip.offer is None else f"{slip.offer:.{meter.decimals}f}"
    return SecondLook("doubtful", far_sentence(meter, expected, slip), meter, offer)


def far_sentence(meter: Meter, expected: Expected, slip: Slip) -> str:
    facts = {
        "value": f"{expected.value:.{meter.decimals}f}",
        "sigma": f"{expected.sigma:.2g}",
        "unit": meter.unit,
    }
    said = _("Expected here %(value)s ± %(sigma)s %(unit)s: read it again") % facts
    return f"{said}; {KINDS[slip.kind]()}" if slip.kind else f"{said}."


def ratio_sentence(ratio: float) -> str:
    return _(
        "The values that go with the power all stand at %(ratio).2f of what is expected: was the "
        "power, the wave or the state changed and not written?"
    ) % {"ratio": ratio}


def ratios(values: Mapping[Meter, float], known: Mapping[Meter, Expected]) -> Iterator[float]:
    """Of the meters that go with the power, each value over its expected one."""
    for meter, value in values.items():
        if meter.quantity_facts.tap_exponent == 1 and known[meter].value > 0:
            yield value / known[meter].value


def swapped_pairs(
    values: Mapping[Meter, float], known: Mapping[Meter, Expected]
) -> Iterator[tuple[Meter, Meter]]:
    """Neighbours of one quantity on the sheet whose values fit each other's place alone."""
    ordered = sorted(values, key=lambda meter: meter.sheet_order)
    for first, second in pairwise(ordered):
        is_pair = first.quantity == second.quantity and first.stage_id == second.stage_id
        if is_pair and is_swapped(values[first], values[second], known[first], known[second]):
            yield first, second
