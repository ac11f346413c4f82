"""Another instrument behind a meter: a counter replaced, an ammeter re-ranged."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import EntryChild
from station.models import Instrument, Meter

FACTS = ("scale_low", "full_scale", "lower_full_scale", "step", "class_percent", "scale_law")


class MeterChange(EntryChild):
    """The last reading of the instrument that was taken out, the first of the one put in, and
    what the new one is; the register's version of it begins at the same instant.
    """

    meter = models.ForeignKey(Meter, models.PROTECT, related_name="changes")
    old_last = models.FloatField(_("last reading of the old one"), null=True)
    new_first = models.FloatField(_("first reading of the new one"), null=True)
    scale_low = models.FloatField(_("bottom of scale"))
    full_scale = models.FloatField(_("full scale"))
    lower_full_scale = models.FloatField(_("full scale of the lower range"), null=True)
    step = models.FloatField(_("smallest step read"))
    class_percent = models.FloatField(_("class"), null=True)
    scale_law = models.CharField(
        _("scale law"), max_length=8, choices=Instrument._meta.get_field("scale_law").choices
    )
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        verbose_name = _("change of an instrument")

    def __str__(self) -> str:
        return f"{self.entry}: {self.meter}"
