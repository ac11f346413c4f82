"""A tube by its serial number. Where it stands, and since when, is written in the log."""

from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from station.models.transmitter import StationOwned, TubeType


class Tube(StationOwned):
    """What the station knows of a tube whether it stands in a socket or on the shelf.

    A tube that comes back from the rebuilder is a tube of its own here, under the serial number
    that it came back with: its life begins anew.
    """

    serial = models.CharField(
        _("serial number"),
        max_length=40,
        validators=[
            RegexValidator(
                r"^[\w. -]+\Z", _("Letters, digits, dots, hyphens and blanks make a serial number.")
            )
        ],
    )
    tube_type = models.ForeignKey(
        TubeType, models.PROTECT, related_name="tubes", verbose_name=_("tube type")
    )
    rebuilds = models.PositiveSmallIntegerField(
        _("times rebuilt"), default=0, help_text=_("0 for a new tube.")
    )
    received_on = models.DateField(_("received on"))
    earlier_h = models.FloatField(
        _("filament hours that this log does not hold"),
        default=0,
        validators=[MinValueValidator(0)],
    )
    warranty_until = models.DateField(_("warranty until"), null=True, blank=True)
    warranty_h = models.FloatField(
        _("warranty, filament hours"), null=True, blank=True, validators=[MinValueValidator(0)]
    )
    accepted_on = models.DateField(_("acceptance test passed on"), null=True, blank=True)
    run_up_on = models.DateField(
        _("last run up on the shelf"),
        null=True,
        blank=True,
        help_text=_("Filament run up, in a socket or on a filament stand, to keep it fit."),
    )
    conditioned_on = models.DateField(
        _("last conditioned"),
        null=True,
        blank=True,
        help_text=_("Inspected, filament soaked, HT stepped up into a load."),
    )
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        verbose_name = _("tube")
        ordering = ["tube_type", "serial"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "serial"],
                name="tube_serial",
                violation_error_message=_("A tube with this serial number is there already."),
            ),
        ]

    def __str__(self) -> str:
        return self.serial
