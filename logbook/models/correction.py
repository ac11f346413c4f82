"""A correction ends what was wrong and may bring what is right; the original stays readable."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild


class Scope(models.TextChoices):
    VALUES = "values", _("some values")
    ANEW = "anew", _("the whole entry, written anew")
    VOID = "void", _("the whole entry, void")
    CHOICE = "choice", _("the other of two rounds was chosen")


class Correction(EntryChild):
    of = models.ForeignKey(Entry, models.PROTECT, related_name="corrections")
    scope = models.CharField(_("scope"), max_length=6, choices=Scope.choices)
    reason = models.CharField(_("reason"), max_length=200)

    class Meta:
        verbose_name = _("correction")

    def __str__(self) -> str:
        return f"{self.entry}: {self.reason}"
