"""Somebody signs: their own entries on a day's sheet, or, in charge, the station's week."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import EntryChild


class SignatureScope(models.TextChoices):
    OWN = "own", _("own entries of a day sheet")
    WEEK = "week", _("the week of the station")


class Signature(EntryChild):
    """It covers the entries up to ``up_to_no``, whose digest is ``digest``: the chain's head when
    it was signed. What is written about that span later stands as 'after signature'.
    """

    scope = models.CharField(_("what is signed"), max_length=4, choices=SignatureScope.choices)
    day = models.DateField(_("day, or the week's Monday"))
    up_to_no = models.PositiveIntegerField(_("up to entry"))
    digest = models.CharField(_("digest of that entry"), max_length=64)

    said = ("scope", "day", "up_to_no", "digest")

    class Meta:
        verbose_name = _("signature")
        indexes = [models.Index(fields=["station", "scope", "day"], name="signature_of_day")]

    def __str__(self) -> str:
        return f"{self.entry}: {self.day}"
