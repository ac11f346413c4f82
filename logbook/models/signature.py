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

    ``left_open`` is what a week's list held without an end when the week was signed: of each item
    its key, the words that were shown, since which week it is there, and whether work on it was
    decided ('carried') or nothing yet ('open').
    """

    scope = models.CharField(_("what is signed"), max_length=4, choices=SignatureScope.choices)
    day = models.DateField(_("day, or the week's Monday"))
    up_to_no = models.PositiveIntegerField(_("up to entry"))
    digest = models.CharField(_("digest of that entry"), max_length=64)

    left_open = models.JSONField(_("left open"), null=True)

    said = ("scope", "day", "up_to_no", "digest")
    said_later = ("left_open",)

    class Meta:
        verbose_name = _("signature")
        indexes = [models.Index(fields=["station", "scope", "day"], name="signature_of_day")]

    def __str__(self) -> str:
        return f"{self.entry}: {self.day}"

    @property
    def still_open(self) -> list[dict[str, str]]:
        """What nothing was decided about when the week was signed."""
        return [one for one in self.left_open or [] if one["state"] == "open"]
