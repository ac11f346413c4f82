"""What is asked about a filament step test or a new setting: asked, never refused.

That a step is 1 to 2 % and that some 200 hours at the rated voltage come first is the practice
of broadcasters (from memory of a paper of theirs); the hours are a setting of the tube type.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from logbook.hour_book import HourBook
from logbook.models.check import Topic
from logbook.state_questions import Question
from logbook.tube_card import hours_until, stays_of
from station.models import Tube

WIDEST_STEP_PERCENT = 2.0
ROUNDING = 0.05
"""Part of a per cent by which a step of 2 % may be off: volts are written with two decimals."""

Maker = Callable[[Mapping[str, Any], Tube], Iterator[Question]]


def filament_questions(
    topic: str, said: Mapping[str, Any], tube: Tube | None
) -> Iterator[Question]:
    """``said`` are the facts of the check with ``observed_at``; without a tube nothing is known."""
    if tube is None:
        return
    for ask in ASKED[topic]:
        yield from ask(said, tube)


def stepped_under(said: Mapping[str, Any], tube: Tube) -> Iterator[Question]:
    yield from under_the_minimum("stepped_v", said, tube)


def left_under(said: Mapping[str, Any], tube: Tube) -> Iterator[Question]:
    yield from under_the_minimum("left_v", said, tube)


def under_the_minimum(field: str, said: Mapping[str, Any], tube: Tube) -> Iterator[Question]:
    volts, least = said[field], tube.tube_type.filament_minimum_v
    if least is not None and volts < least:
        sentence = _(
            "%(volts)g V is under the maker's minimum of %(least)g V of tube %(tube)s: "
            "raise it again. Too cold, the emission is lost faster than too hot."
        )
        yield question("minimum", field, sentence, volts=volts, least=least, tube=tube)


def left_over(said: Mapping[str, Any], tube: Tube) -> Iterator[Question]:
    volts, most = said["left_v"], tube.tube_type.filament_maximum_v
    if volts > most:
        sentence = _("%(volts)g V is over the maker's maximum of %(most)g V of tube %(tube)s.")
        yield question("maximum", "left_v", sentence, volts=volts, most=most, tube=tube)


def wide_step(said: Mapping[str, Any], tube: Tube) -> Iterator[Question]:
    found, left = said["found_v"], said["left_v"]
    if found <= 0:
        return
    percent = 100 * (left - found) / found
    if percent < -WIDEST_STEP_PERCENT - ROUNDING:
        sentence = _("A step of %(percent).1f %%: 1 to 2 %% at a time is the practice.")
        yield question("step", "left_v", sentence, volts=left, percent=percent)


def early_step(said: Mapping[str, Any], tube: Tube) -> Iterator[Question]:
    """A tube that has not had its first hours at the rated voltage."""
    rated, least = tube.tube_type.filament_voltage_v, tube.tube_type.run_in_h
    if said["left_v"] >= rated or said["left_v"] >= said["found_v"]:
        return
    hours = hours_of_tube(tube, said["observed_at"])
    if hours < least:
        sentence = _(
            "Tube %(tube)s has %(hours).0f filament hours: the first %(least)g are run at the "
            "rated %(rated)g V."
        )
        facts = {"tube": tube, "hours": hours, "least": least, "rated": rated}
        yield question("run-in", "left_v", sentence, volts=said["left_v"], **facts)


def hours_of_tube(tube: Tube, at: datetime) -> float:
    """Its filament hours at an instant."""
    mine = stays_of(tube)
    return hours_until(tube, mine, HourBook(tube.station, mine, at), at).hours


def question(name: str, field: str, sentence: str, *, volts: float, **facts: Any) -> Question:
    """Named by the volts too: an answer fits them alone. Each wants its reason."""
    words = sentence % {"volts": volts, **facts}
    return Question(f"{name}:{volts:g}", field, words, needs_reason=True)


ASKED: dict[str, tuple[Maker, ...]] = {
    Topic.FILAMENT_STEP: (stepped_under,),
    Topic.FILAMENT_SETTING: (left_under, left_over, wide_step, early_step),
}
