"""Days that must be kept longer than the usual years, until they are released in writing."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild


class Hold(EntryChild):
    """The log of these days is kept: a disaster, an investigation, a claim."""

    since = models.DateField(_("from the day"))
    until = models.DateField(_("to the day"))
    reason = models.CharField(_("why"), max_length=200)
    reference = models.CharField(_("by which paper"), max_length=120, blank=True)

    said = ("since", "until", "reason", "reference")

    class Meta:
        verbose_name = _("hold")

    def __str__(self) -> str:
        return f"{self.since} to {self.until}: {self.reason}"


class Release(EntryChild):
    """The end of a hold, by a paper that is named."""

    of = models.ForeignKey(Entry, models.PROTECT, related_name="releases")
    reference = models.CharField(_("by which paper"), max_length=120)

    said = ("of", "reference")

    class Meta:
        verbose_name = _("release of a hold")

    def __str__(self) -> str:
        return f"{self.entry}"
