"""A meter is a place on the round sheet; an instrument is what hangs behind it for a time."""

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from station.models.transmitter import Socket, Stage, StationOwned, Transmitter
from station.quantities import QUANTITIES, Quantity


class Moves(models.TextChoices):
    """How programme modulation moves a meter."""

    NONE = "none", _("not at all")
    FAST = "fast", _("at once")
    SLOW = "slow", _("with a lag of minutes")


class Occasion(models.TextChoices):
    """When a meter is read."""

    ROUND = "round", _("each round")
    SHIFT = "shift", _("once a shift and at a wave change")
    TEST = "test", _("at a test")


class Counts(models.TextChoices):
    """What an hour counter counts.

    A counter with a socket counts that socket, one with a stage alone every socket of the stage,
    one with neither every socket of its transmitter. The narrowest one counts a socket's hours.
    """

    FILAMENT = "filament", _("filament hours")
    HT = "ht", _("HT hours")


class Meter(StationOwned):
    id = models.AutoField(primary_key=True)  # four bytes: it stands on every reading
    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="meters")
    code = models.SlugField(_("code"), max_length=40)
    label = models.CharField(_("label"), max_length=60)
    quantity = models.CharField(_("quantity"), max_length=24)
    unit = models.CharField(_("unit"), max_length=8)
    decimals = models.PositiveSmallIntegerField(_("decimals"))
    stage = models.ForeignKey(Stage, models.PROTECT, null=True, blank=True)
    socket = models.ForeignKey(Socket, models.PROTECT, null=True, blank=True)
    panel_group = models.CharField(_("panel group"), max_length=40)
    sheet_order = models.PositiveSmallIntegerField(_("order on the sheet"))
    includes = models.CharField(
        _("what it includes"),
        max_length=80,
        blank=True,
        help_text=_("For a current: anode alone, or anode and grid (a cathode meter)."),
    )
    moves = models.CharField(
        _("how modulation moves it"), max_length=4, choices=Moves.choices, default=Moves.NONE
    )
    occasion = models.CharField(
        _("read"), max_length=5, choices=Occasion.choices, default=Occasion.ROUND
    )
    scatter = models.FloatField(_("own scatter, one sigma"), null=True, blank=True)
    counts = models.CharField(
        _("hour counter of"), max_length=8, blank=True, choices=Counts.choices
    )
    line_ohm = models.FloatField(
        _("impedance where it hangs, ohm"),
        null=True,
        blank=True,
        validators=[MinValueValidator(0.001)],
        help_text=_("For a feeder current: of the line, or of the antenna at its base."),
    )

    class Meta:
        verbose_name = _("meter")
        ordering = ["transmitter", "sheet_order"]
        constraints = [
            models.UniqueConstraint(fields=["station", "transmitter", "code"], name="meter_code"),
        ]

    def __str__(self) -> str:
        return f"{self.transmitter} {self.label}"

    @property
    def quantity_facts(self) -> Quantity:
        return QUANTITIES[self.quantity]


class Instrument(StationOwned):
    """What hangs behind a meter from one instant to another."""

    meter = models.ForeignKey(Meter, models.PROTECT, related_name="instruments")
    valid_from = models.DateTimeField(_("from"))
    valid_until = models.DateTimeField(_("until"), null=True, blank=True)
    scale_low = models.FloatField(_("bottom of scale"), default=0)
    full_scale = models.FloatField(_("full scale"))
    lower_full_scale = models.FloatField(
        _("full scale of the lower range"),
        null=True,
        blank=True,
        help_text=_("where there is a range switch"),
    )
    step = models.FloatField(_("smallest step read"))
    class_percent = models.FloatField(
        _("class"),
        null=True,
        blank=True,
        help_text=_("per cent of the full scale of the range in use"),
    )
    scale_law = models.CharField(
        _("scale law"),
        max_length=8,
        default="linear",
        choices=[("linear", _("linear")), ("square", _("square law")), ("counter", _("counter"))],
    )

    class Meta:
        verbose_name = _("instrument")
        ordering = ["meter", "valid_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "meter", "valid_from"], name="instrument_from"
            ),
            models.UniqueConstraint(
                fields=["station", "meter"],
                condition=Q(valid_until__isnull=True),
                name="instrument_one_in_use",
            ),
            models.CheckConstraint(
                condition=Q(step__gt=0),
                name="instrument_step_positive",
                violation_error_message=_("The smallest step read is above zero."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter} 0-{self.full_scale:g}"
