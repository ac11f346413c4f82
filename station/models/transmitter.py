"""A station, its transmitters, their stages and tube positions."""

from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from station.states import Modulation, PowerSetBy, State


def validate_time_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(
            _("'%(name)s' is not a time zone: write one such as Europe/Vienna or UTC."),
            params={"name": name},
        )


class LogDay(models.TextChoices):
    UTC = "utc", _("UTC day")
    LOCAL = "local", _("local day")


class Station(models.Model):
    """A broadcasting station; its row is the lock under which log entries get their number."""

    id = models.AutoField(primary_key=True)  # four bytes: it stands on every reading
    code = models.SlugField(_("code"), unique=True)
    name = models.CharField(_("name"), max_length=80)
    time_zone = models.CharField(
        _("time zone"), max_length=60, default="UTC", validators=[validate_time_zone]
    )
    log_day = models.CharField(
        _("log day"), max_length=5, choices=LogDay.choices, default=LogDay.UTC
    )
    retention_years = models.PositiveSmallIntegerField(_("kept for, years"), default=2)
    late_after_min = models.PositiveSmallIntegerField(_("late after, minutes"), default=15)

    class Meta:
        verbose_name = _("station")

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


class StationOwned(models.Model):
    """A row that belongs to one station; the station stands first in its unique keys."""

    station = models.ForeignKey(Station, models.PROTECT, related_name="+")

    class Meta:
        abstract = True


class Transmitter(StationOwned):
    code = models.CharField(_("code"), max_length=12)
    name = models.CharField(_("name"), max_length=80)
    full_power_kw = models.FloatField(_("full power, kW"), validators=[MinValueValidator(0.001)])
    default_modulation = models.CharField(
        _("modulation while readings are taken"),
        max_length=8,
        choices=Modulation.choices,
        default=Modulation.ON,
    )
    sheet_order = models.PositiveSmallIntegerField(_("order"), default=0)
    frequency_tolerance_hz = models.FloatField(
        _("frequency tolerance, Hz"), default=10, validators=[MinValueValidator(0.001)]
    )

    class Meta:
        verbose_name = _("transmitter")
        ordering = ["sheet_order", "code"]
        constraints = [
            models.UniqueConstraint(fields=["station", "code"], name="transmitter_code"),
        ]

    def __str__(self) -> str:
        return self.code


class RoundInterval(StationOwned):
    """How often a transmitter is read in one state; a state without a row asks for no rounds."""

    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="intervals")
    state = models.CharField(_("state"), max_length=12, choices=State.choices)
    minutes = models.PositiveSmallIntegerField(_("minutes"), validators=[MinValueValidator(5)])

    class Meta:
        verbose_name = _("round interval")
        constraints = [
            models.UniqueConstraint(
                fields=["station", "transmitter", "state"], name="round_interval_state"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.transmitter} {self.state}: {self.minutes} min"


class PowerLevel(StationOwned):
    """A power that a transmitter is set to, and how it is set."""

    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="power_levels")
    power_kw = models.FloatField(_("power, kW"), validators=[MinValueValidator(0.001)])
    set_by = models.CharField(
        _("set by"), max_length=8, choices=PowerSetBy.choices, default=PowerSetBy.TAP
    )

    class Meta:
        verbose_name = _("power level")
        ordering = ["power_kw"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "transmitter", "power_kw", "set_by"], name="power_level"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.power_kw:g} kW"


class Stage(StationOwned):
    """One stage of a transmitter: final, driver, modulator."""

    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="stages")
    code = models.CharField(_("code"), max_length=12)
    name = models.CharField(_("name"), max_length=80)
    drive_feed_through = models.FloatField(
        _("part of the drive that reaches the output"),
        default=0,
        help_text=_("0 for grid drive; for a grounded grid from the commissioning record."),
    )

    class Meta:
        verbose_name = _("stage")
        constraints = [
            models.UniqueConstraint(fields=["station", "transmitter", "code"], name="stage_code"),
        ]

    def __str__(self) -> str:
        return f"{self.transmitter} {self.code}"


class TubeType(StationOwned):
    """A type of tube by the station's own name for it."""

    code = models.CharField(_("code"), max_length=20)
    name = models.CharField(_("name"), max_length=80, blank=True)
    filament_voltage_v = models.FloatField(_("rated filament voltage, V"))
    filament_minimum_v = models.FloatField(
        _("maker's minimum filament voltage, V"),
        null=True,
        blank=True,
        help_text=_("Without it no lower setting is ever proposed."),
    )
    filament_maximum_v = models.FloatField(_("maker's maximum filament voltage, V"))
    life_exponent = models.FloatField(
        _("life by filament voltage, exponent"),
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text=_(
            "Life goes with the voltage to the power of less this: a rule of thumb. Empty: no life "
            "is computed from the voltage, which is right for thoriated tungsten."
        ),
    )
    black_heat_percent = models.FloatField(
        _("black heat that the maker permits, % of the rated voltage"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text=_("Empty: the maker does not permit it, or it is not known."),
    )
    rated_life_h = models.FloatField(_("rated life, filament hours"))
    life_spread_h = models.FloatField(
        _("spread of the lives, one sigma, hours"),
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    lead_time_days = models.PositiveSmallIntegerField(_("lead time, days"))
    # The defaults of these four are common practice, no source.
    run_in_h = models.FloatField(_("run-in, filament hours"), default=200)
    acceptance_days = models.PositiveSmallIntegerField(
        _("acceptance test within, days of receipt"), default=30
    )
    rotation_days = models.PositiveSmallIntegerField(
        _("a spare is run up every, days"), default=270
    )
    conditioning_days = models.PositiveSmallIntegerField(
        _("a spare is conditioned before use after, days"), default=365
    )

    class Meta:
        verbose_name = _("tube type")
        constraints = [
            models.UniqueConstraint(fields=["station", "code"], name="tube_type_code"),
        ]

    def __str__(self) -> str:
        return self.code


class Socket(StationOwned):
    """A tube position, with the tube types that fit it."""

    stage = models.ForeignKey(Stage, models.PROTECT, related_name="sockets")
    code = models.CharField(_("code"), max_length=12)
    fits = models.ManyToManyField(TubeType, related_name="sockets", verbose_name=_("tube types"))

    class Meta:
        verbose_name = _("socket")
        constraints = [
            models.UniqueConstraint(fields=["station", "stage", "code"], name="socket_code"),
        ]

    def __str__(self) -> str:
        return f"{self.stage.transmitter} {self.code}"
