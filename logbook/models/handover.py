"""One shift hands over to the next: what the tool assembled and the off-going wrote, then the
oncoming person's countersign. Open means that the second entry is not there.
"""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild


class Handover(EntryChild):
    """``assembled`` is what the tool showed when it was written, line by line.

    ``unstaffed_until``: nobody took over then; whoever comes first reads it and countersigns.
    """

    assembled = models.TextField(_("as the log stood"))
    notes = models.TextField(_("what the off-going shift says"), blank=True)

    unstaffed_until = models.DateTimeField(_("unstaffed until"), null=True)

    said = ("assembled", "notes")
    said_later = ("unstaffed_until",)

    class Meta:
        verbose_name = _("hand-over")

    def __str__(self) -> str:
        return f"{self.entry}"


class DutyTaken(EntryChild):
    """Who wrote the entry is in charge from then on; ``of`` is the hand-over that was read."""

    of = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="taken_over")
    qualification = models.CharField(_("number of the qualification"), max_length=40, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)

    said = ("of", "qualification", "note")

    class Meta:
        verbose_name = _("duty taken")

    def __str__(self) -> str:
        return f"{self.entry}"
