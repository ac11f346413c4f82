"""Permits and earths on a transmitter or an antenna, as the log notes them; the record is not the
permit.
"""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild
from station.models import Antenna


class Permit(EntryChild):
    """Somebody may work on a transmitter, or on an antenna and its mast: the entry has no
    transmitter then. Two names: who wrote it, and the authorised person.

    ``beside`` is what may be transmitted on the antennas beside it meanwhile.
    """

    number = models.CharField(_("number of the permit"), max_length=20)
    holder = models.CharField(_("holder"), max_length=80)
    authorised_by = models.CharField(_("authorised person"), max_length=80)
    work = models.CharField(_("work"), max_length=200)
    earths = models.PositiveSmallIntegerField(_("earth sticks out"), default=0)
    antenna = models.ForeignKey(
        Antenna, models.PROTECT, null=True, related_name="+", verbose_name=_("antenna")
    )
    beside = models.CharField(_("allowed on the antennas beside it"), max_length=120, blank=True)

    said = ("number", "holder", "authorised_by", "work", "earths")
    said_later = ("antenna", "beside")

    class Meta:
        verbose_name = _("permit")

    def __str__(self) -> str:
        return f"{self.number} {self.holder}"


class PermitReturn(EntryChild):
    """The holder gave it back, all earths are off and counted, a second person saw it."""

    of = models.ForeignKey(Entry, models.PROTECT, related_name="permit_returns")
    earths_back = models.PositiveSmallIntegerField(_("earth sticks back"))
    seen_by = models.CharField(_("second person"), max_length=80)
    note = models.CharField(_("note"), max_length=200, blank=True)

    said = ("of", "earths_back", "seen_by", "note")

    class Meta:
        verbose_name = _("return of a permit")

    def __str__(self) -> str:
        return f"{self.entry}"
