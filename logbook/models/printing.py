"""What was printed for the file: so that a second print of a sheet says that it is one."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from station.models.transmitter import StationOwned


class Printing(StationOwned):
    """One print of one page; no part of the chain, which each print names."""

    address = models.CharField(_("page"), max_length=200)
    printed_at = models.DateTimeField(_("printed at"))
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    up_to_no = models.PositiveIntegerField(_("up to entry"), default=0)

    class Meta:
        verbose_name = _("print")
        ordering = ["pk"]
        indexes = [models.Index(fields=["station", "address"], name="printing_of_page")]

    def __str__(self) -> str:
        return f"{self.address} {self.printed_at:%Y-%m-%d %H:%M}"
