"""What somebody did about a flag: the words that were shown stay, whatever is judged later."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import EntryChild
from station.models import Meter


class FlagVerb(models.TextChoices):
    ACKNOWLEDGE = "acknowledge", _("acknowledged")
    CLOSE = "close", _("closed")


class FlagAction(EntryChild):
    """``rule``, ``meter`` and ``first_no`` are the flag's natural key; ``comment`` is the cause
    where the flag is closed.
    """

    rule = models.CharField(_("rule"), max_length=24)
    meter = models.ForeignKey(Meter, models.PROTECT, related_name="flag_actions", db_index=False)
    first_no = models.PositiveIntegerField(_("first entry"))
    verb = models.CharField(_("action"), max_length=12, choices=FlagVerb.choices)
    words = models.CharField(_("flag"), max_length=200)
    comment = models.CharField(_("comment"), max_length=500, blank=True)

    class Meta:
        verbose_name = _("action about a flag")
        indexes = [models.Index(fields=["meter", "rule", "first_no"], name="flag_action_of_flag")]

    def __str__(self) -> str:
        return f"{self.entry}: {self.verb} {self.words}"
