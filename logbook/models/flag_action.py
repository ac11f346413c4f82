"""What somebody did about a flag: the words that were shown stay, whatever is judged later.

The words of IEC 62682 (from memory), in plain ones: a reset after an inspection, the shelf with
its end, a meter out of service for work.
"""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import EntryChild
from station.models import Meter


class FlagVerb(models.TextChoices):
    ACKNOWLEDGE = "acknowledge", _("acknowledged")
    CLOSE = "close", _("closed")
    RESET = "reset", _("reset after inspection")
    SHELVE = "shelve", _("shelved")
    UNSHELVE = "unshelve", _("taken off the shelf")
    OUT = "out", _("meter out of service")
    BACK = "back", _("meter back in service")


class FlagAction(EntryChild):
    """``rule``, ``meter`` and ``first_no`` are the flag's natural key; ``comment`` is the cause
    where the flag is closed, else the reason.

    A flag is shelved for its rule and meter, up to the instant ``until``, None for the end of the
    shift. A meter is out of service for every flag of it, by a work order with ``order_number``.
    """

    rule = models.CharField(_("rule"), max_length=24)
    meter = models.ForeignKey(Meter, models.PROTECT, related_name="flag_actions", db_index=False)
    first_no = models.PositiveIntegerField(_("first entry"))
    verb = models.CharField(_("action"), max_length=12, choices=FlagVerb.choices)
    words = models.CharField(_("flag"), max_length=200)
    comment = models.CharField(_("comment"), max_length=500, blank=True)
    until = models.DateTimeField(_("until"), null=True)
    order_number = models.CharField(_("number of the work order"), max_length=40, blank=True)

    said_later = ("until", "order_number")

    class Meta:
        verbose_name = _("action about a flag")
        indexes = [models.Index(fields=["meter", "rule", "first_no"], name="flag_action_of_flag")]

    def __str__(self) -> str:
        return f"{self.entry}: {self.verb} {self.words}"
