"""A change of wave: what joins the changes of state and the readings that it brought."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild


class WaveChange(EntryChild):
    """The entry's own instant is when RF came on; ``began`` is the change of state of that
    instant, which begins the run.

    ``as_found`` and ``as_left`` are rounds of the dials and of the first readings. ``deviations``
    is what the page said of the dials against the best-known setting, as it was known then.
    """

    began = models.ForeignKey(Entry, models.PROTECT, related_name="began_by")
    from_khz = models.FloatField(_("from, kHz"), null=True)
    to_khz = models.FloatField(_("to, kHz"))
    ht_off_at = models.DateTimeField(_("HT off"), null=True)
    full_power_at = models.DateTimeField(_("full power"), null=True)
    as_found = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="found_before")
    as_left = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="left_by")
    deviations = models.CharField(_("dials from the best known"), max_length=300, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)

    said = (
        *("began", "from_khz", "to_khz", "ht_off_at", "full_power_at"),
        *("as_found", "as_left", "deviations", "note"),
    )

    class Meta:
        verbose_name = _("change of wave")

    def __str__(self) -> str:
        return f"{self.entry}: {self.to_khz:g} kHz"
