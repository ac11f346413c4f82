"""Antennas, coil sets and the waves a transmitter is set up for."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from station.models.transmitter import StationOwned, Transmitter


class Antenna(StationOwned):
    code = models.CharField(_("code"), max_length=12)
    name = models.CharField(_("name"), max_length=80, blank=True)
    low_khz = models.FloatField(_("lowest frequency, kHz"))
    high_khz = models.FloatField(_("highest frequency, kHz"))

    class Meta:
        verbose_name = _("antenna")
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["station", "code"], name="antenna_code"),
            models.CheckConstraint(
                condition=Q(low_khz__lte=F("high_khz")),
                name="antenna_range",
                violation_error_message=_("The lowest frequency lies above the highest."),
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def suits(self, frequency_khz: float) -> bool:
        return self.low_khz <= frequency_khz <= self.high_khz


class CoilSet(StationOwned):
    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="coil_sets")
    code = models.CharField(_("code"), max_length=12)

    class Meta:
        verbose_name = _("coil set")
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "transmitter", "code"], name="coil_set_code"
            ),
        ]

    def __str__(self) -> str:
        return self.code


class Wave(StationOwned):
    """A frequency that a transmitter is set up for, with its coil set and usual antenna."""

    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="waves")
    frequency_khz = models.FloatField(_("frequency, kHz"))
    coil_set = models.ForeignKey(CoilSet, models.PROTECT, null=True, blank=True)
    antenna = models.ForeignKey(Antenna, models.PROTECT, related_name="waves")

    class Meta:
        verbose_name = _("wave")
        ordering = ["frequency_khz"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "transmitter", "frequency_khz"], name="wave_frequency"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.frequency_khz:g} kHz"
