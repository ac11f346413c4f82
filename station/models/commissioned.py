"""What the register file said when it was last taken."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from station.models.transmitter import StationOwned


class Commissioned(StationOwned):
    """One taking of a register file: by it, later edits are told from the file's own changes."""

    at = models.DateTimeField(_("at"))
    file_name = models.CharField(_("file"), max_length=200)
    rows = models.JSONField(_("what the file said"))

    class Meta:
        verbose_name = _("commissioning")
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.file_name} {self.at:%Y-%m-%d}"
