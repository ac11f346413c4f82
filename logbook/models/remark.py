"""Free text with its time, about a transmitter or about another entry."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild


class Remark(EntryChild):
    text = models.TextField(_("remark"))
    about = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="remarks")

    class Meta:
        verbose_name = _("remark")

    def __str__(self) -> str:
        return f"{self.entry}: {self.text[:40]}"
