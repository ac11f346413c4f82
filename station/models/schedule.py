"""The published schedule by versions, and what the station is authorised to transmit."""

from datetime import date

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from station.broadcasts import DAY_MIN, Line
from station.models.antenna import Antenna
from station.models.transmitter import StationOwned, Transmitter


class ScheduleVersion(StationOwned):
    """All lines that hold from ``effective_from`` until the next version's instant.

    A version is never changed: what was in force stays what past availability is counted by.
    """

    effective_from = models.DateTimeField(_("in force from"))
    note = models.CharField(_("note"), max_length=200, blank=True)
    taken_at = models.DateTimeField(_("taken at"))
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", verbose_name=_("taken by")
    )

    class Meta:
        verbose_name = _("version of the schedule")
        ordering = ["effective_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "effective_from"], name="schedule_version_from"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.effective_from:%Y-%m-%d %H:%M} UTC"


class ScheduleLine(StationOwned):
    """One transmission as it is published; see station.broadcasts.Line for its times."""

    version = models.ForeignKey(ScheduleVersion, models.CASCADE, related_name="lines")
    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="schedule_lines")
    frequency_khz = models.FloatField(_("frequency, kHz"))
    start_min = models.PositiveSmallIntegerField(_("start, minutes UTC"))
    stop_min = models.PositiveSmallIntegerField(_("stop, minutes UTC"))
    days = models.CharField(_("days, 1 is Sunday"), max_length=7)
    antenna = models.ForeignKey(Antenna, models.PROTECT, null=True, related_name="+")
    power_kw = models.FloatField(_("power, kW"), null=True)
    azimuth_deg = models.FloatField(_("azimuth, degrees"), null=True)
    slew_deg = models.FloatField(_("slew, degrees"), null=True)
    zones = models.CharField(_("zones"), max_length=80, blank=True)
    modulation = models.CharField(_("modulation"), max_length=12, blank=True)
    service = models.CharField(_("service"), max_length=40, blank=True)
    valid_from = models.DateField(_("from the day"), null=True)
    valid_until = models.DateField(_("to the day"), null=True)
    identifier = models.CharField(_("identifier"), max_length=20, blank=True)

    class Meta:
        verbose_name = _("line of the schedule")
        ordering = ["transmitter", "start_min", "frequency_khz"]
        constraints = [
            models.CheckConstraint(
                condition=Q(start_min__lt=DAY_MIN) & Q(stop_min__lte=DAY_MIN),
                name="schedule_line_within_a_day",
            ),
            models.CheckConstraint(
                condition=~Q(start_min=F("stop_min")), name="schedule_line_has_a_length"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.transmitter} {clock(self.start_min)}-{clock(self.stop_min)}"

    def line(self) -> Line:
        return Line(
            transmitter_id=self.transmitter_id,
            frequency_khz=self.frequency_khz,
            start_min=self.start_min,
            stop_min=self.stop_min,
            days=frozenset(self.days),
            valid_from=self.valid_from,
            valid_until=self.valid_until,
            antenna_id=self.antenna_id,
            power_kw=self.power_kw,
            service=self.service,
        )


def clock(minutes: int) -> str:
    """'0600' to '2400', as schedules write it."""
    return f"{minutes // 60:02d}{minutes % 60:02d}"


class Authorisation(StationOwned):
    """What a transmitter may transmit, by the paper with this reference."""

    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="authorisations")
    low_khz = models.FloatField(_("lowest frequency, kHz"))
    high_khz = models.FloatField(_("highest frequency, kHz"))
    most_power_kw = models.FloatField(
        _("greatest power, kW"), validators=[MinValueValidator(0.001)]
    )
    antenna = models.ForeignKey(
        Antenna, models.PROTECT, null=True, blank=True, related_name="+", verbose_name=_("antenna")
    )
    azimuth_deg = models.FloatField(_("azimuth, degrees"), null=True, blank=True)
    valid_from = models.DateField(_("from the day"))
    valid_until = models.DateField(_("to the day"))
    reference = models.CharField(_("reference"), max_length=80)

    class Meta:
        verbose_name = _("authorisation")
        ordering = ["transmitter", "low_khz", "valid_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "transmitter", "reference", "low_khz"],
                name="authorisation_reference",
            ),
            models.CheckConstraint(
                condition=Q(low_khz__lte=F("high_khz")),
                name="authorisation_range",
                violation_error_message=_("The lowest frequency lies above the highest."),
            ),
            models.CheckConstraint(
                condition=Q(valid_from__lte=F("valid_until")),
                name="authorisation_span",
                violation_error_message=_("The last day lies before the first."),
            ),
        ]

    def __str__(self) -> str:
        return self.reference

    def covers(
        self, frequency_khz: float, power_kw: float | None, antenna_id: int | None, day: date
    ) -> bool:
        """What is not known of the power or the antenna is not held against it."""
        is_on_wave = self.low_khz <= frequency_khz <= self.high_khz
        is_within = power_kw is None or power_kw <= self.most_power_kw
        is_there = antenna_id is None or self.antenna_id in (None, antenna_id)
        return is_on_wave and is_within and is_there and self.valid_from <= day <= self.valid_until
