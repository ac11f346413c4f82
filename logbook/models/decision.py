"""What the engineer in charge decides about one item of the week's list."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import EntryChild


class Decided(models.TextChoices):
    WATCH = "watch", _("watch")
    RE_READ = "re-read", _("re-read")
    PLAN_WORK = "plan-work", _("plan work")
    CHANGE_LIMIT = "change-limit", _("change limit")


class WeekDecision(EntryChild):
    """A later one about the same ``key`` takes its place.

    ``key`` is the item's natural key, its kind first: 'flag/T1/ht_voltage/limit-low/57'. ``words``
    are those that were shown. ``measure`` is how bad it was then, greater is worse: a count, a
    flag's priority (1 low to 3 high), for a drift minus the day, numbered from 1970 UTC, on which
    its limit is reached at the earliest; None where it has none.
    """

    week = models.DateField(_("the week's Monday"))
    key = models.CharField(_("item"), max_length=160)
    words = models.CharField(_("what was shown"), max_length=500)
    decision = models.CharField(_("decision"), max_length=12, choices=Decided.choices)
    reason = models.CharField(_("reason"), max_length=200, blank=True)
    look_again = models.DateField(_("looked at again on"), null=True)
    measure = models.FloatField(_("measure"), null=True)

    said = ("week", "key", "words", "decision", "reason", "look_again", "measure")

    class Meta:
        verbose_name = _("decision of the week")
        indexes = [
            models.Index(fields=["station", "key"], name="decision_of_item"),
            models.Index(fields=["station", "week"], name="decision_of_week"),
        ]

    def __str__(self) -> str:
        return f"{self.entry}: {self.decision} {self.words}"
