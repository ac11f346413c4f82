"""How an item of the week's list stands, by what was decided about it."""

from datetime import date
from enum import StrEnum

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from health.boards.week_items import Item
from logbook.models import Decided, WeekDecision


class Stand(StrEnum):
    """Names are those of the parts that draw them."""

    UNDECIDED = "undecided"
    BACK = "back"
    CARRIED = "carried"
    DECIDED = "decided"
    GONE = "gone"


def stand_of(
    item: Item, decision: WeekDecision | None, today: date, before: WeekDecision | None
) -> tuple[Stand, str]:
    """How an item that is there stands, and why it comes back.

    What is watched comes back when its day comes or when it got worse; what asks for something to
    be done is carried until it is gone. ``before`` was decided about a flag of the same kind that
    has ended: this one was raised again.
    """
    if decision is None:
        return (Stand.BACK, again_words(before)) if before else (Stand.UNDECIDED, "")
    if decision.look_again and decision.look_again <= today:
        return Stand.BACK, _("its day has come")
    if item.is_worse_than(decision.measure):
        return Stand.BACK, worse_words(item, decision.measure)
    return (Stand.DECIDED if decision.decision == Decided.WATCH else Stand.CARRIED), ""


def again_words(before: WeekDecision) -> str:
    facts = {"what": before.get_decision_display(), "no": before.entry.no}
    return _("raised again; of the flag before it entry %(no)s decided: %(what)s") % facts


def worse_words(item: Item, then: float | None) -> str:
    """What grew, by what the measure of its kind counts."""
    if then is None:
        return _("it has a date for its limit now")
    grown = round((item.measure or 0) - then)
    if item.key.startswith("flag/"):
        return _("its priority rose")
    if item.key.startswith("drift/"):
        sooner = ngettext(
            "its limit comes %(n)s day sooner", "its limit comes %(n)s days sooner", grown
        )
        return sooner % {"n": grown}
    return ngettext("%(n)s more than then", "%(n)s more than then", grown) % {"n": grown}
