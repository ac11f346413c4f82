"""Limits in versions, and the normal value of a meter at a power level or on a wave."""

from django.conf import settings
from django.db import models
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from station.models.meter import Meter
from station.models.transmitter import StationOwned
from station.states import State


class Priority(models.TextChoices):
    HIGH = "high", _("high")
    MEDIUM = "medium", _("medium")
    LOW = "low", _("low")


class LimitModulation(models.TextChoices):
    CARRIER = "carrier", _("carrier")
    ON = "on", _("programme on")


class Limit(StationOwned):
    """One version of the limits of a meter; blank columns mean 'any'.

    Limits are inclusive: a reading at the limit is beyond it. With ``is_from_normal`` the four
    values are distances from the meter's normal value. The newest version whose ``valid_from``
    has passed is in force; a version with no values withdraws the limit.
    """

    meter = models.ForeignKey(Meter, models.PROTECT, related_name="limits")
    state = models.CharField(_("state"), max_length=12, blank=True, choices=State.choices)
    frequency_khz = models.FloatField(_("wave, kHz"), null=True, blank=True)
    power_kw = models.FloatField(_("power, kW"), null=True, blank=True)
    modulation = models.CharField(
        _("modulation"), max_length=8, blank=True, choices=LimitModulation.choices
    )
    low_alarm = models.FloatField(_("low alarm"), null=True, blank=True)
    low_warning = models.FloatField(_("low warning"), null=True, blank=True)
    high_warning = models.FloatField(_("high warning"), null=True, blank=True)
    high_alarm = models.FloatField(_("high alarm"), null=True, blank=True)
    is_from_normal = models.BooleanField(_("distances from the normal value"), default=False)
    deadband = models.FloatField(_("deadband"), null=True, blank=True)
    priority = models.CharField(
        _("priority"), max_length=6, choices=Priority.choices, default=Priority.MEDIUM
    )
    advice = models.TextField(_("what to do"), blank=True)
    consequence = models.TextField(_("what follows if nobody does"), blank=True)
    allowed_min = models.PositiveIntegerField(_("time allowed, minutes"), null=True, blank=True)
    valid_from = models.DateTimeField(_("valid from"))
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    reason = models.CharField(_("reason"), max_length=200)

    class Meta:
        verbose_name = _("limit")
        ordering = ["meter", "valid_from"]
        constraints = [
            # 0 stands for 'any', because two NULLs would not be equal.
            models.UniqueConstraint(
                "station",
                "meter",
                "state",
                Coalesce("frequency_khz", 0.0),
                Coalesce("power_kw", 0.0),
                "modulation",
                "valid_from",
                name="limit_version",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter} {self.valid_from:%Y-%m-%d}"


class Normal(StationOwned):
    """The normal value of a meter at a power level (None: any) and on a wave (None: any)."""

    meter = models.ForeignKey(Meter, models.PROTECT, related_name="normals")
    power_kw = models.FloatField(_("power, kW"), null=True, blank=True)
    frequency_khz = models.FloatField(_("wave, kHz"), null=True, blank=True)
    value = models.FloatField(_("value"))

    class Meta:
        verbose_name = _("normal value")
        constraints = [
            models.UniqueConstraint(
                "station",
                "meter",
                Coalesce("power_kw", 0.0),
                Coalesce("frequency_khz", 0.0),
                name="normal_value",
                violation_error_message=_(
                    "A normal value for this power and wave is there already."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter} {self.value:g}"
