"""The plant: transmitters, antennas, stages, tube types, waves and meters."""

from datetime import UTC, datetime
from typing import Any

from django import forms
from django.contrib import admin
from django.core.exceptions import ValidationError
from django.db import models
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from station.admin.base import OwnAdmin, OwnFilter, OwnForm, OwnInline, OwnStation
from station.admin.site import site
from station.models import (
    Antenna,
    Authorisation,
    CoilSet,
    Meter,
    Normal,
    PowerLevel,
    RoundInterval,
    Socket,
    Stage,
    Station,
    Transmitter,
    Tube,
    TubeType,
    Wave,
)
from station.models.use import is_used
from station.quantities import QUANTITIES, UNITS
from station.signals import tell_limits_changed

OF_TRANSMITTER = [("transmitter", OwnFilter)]


@admin.register(Station, site=site)
class StationAdmin(OwnStation, admin.ModelAdmin):
    """The log hangs on its code, zone and day: those were fixed at commissioning."""

    readonly_fields = ("code", "time_zone", "log_day")

    def get_queryset(self, request: HttpRequest) -> "models.QuerySet[Station]":
        return Station.objects.filter(pk=request.user.station_id)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class IntervalInline(OwnInline):
    model = RoundInterval


class PowerLevelInline(OwnInline):
    model = PowerLevel


@admin.register(Transmitter, site=site)
class TransmitterAdmin(OwnAdmin):
    list_display = ("code", "name", "full_power_kw", "default_modulation")
    inlines = (IntervalInline, PowerLevelInline)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        return ("code", "full_power_kw") if obj and is_used(obj) else ()


class SocketInline(OwnInline):
    model = Socket


@admin.register(Stage, site=site)
class StageAdmin(OwnAdmin):
    list_display = ("transmitter", "code", "name", "drive_feed_through")
    list_filter = OF_TRANSMITTER
    inlines = (SocketInline,)


@admin.register(TubeType, site=site)
class TubeTypeAdmin(OwnAdmin):
    list_display = ("code", "name", "filament_voltage_v", "rated_life_h", "lead_time_days")


@admin.register(Authorisation, site=site)
class AuthorisationAdmin(OwnAdmin):
    list_display = ("transmitter", "low_khz", "high_khz", "most_power_kw", "valid_until")
    list_filter = OF_TRANSMITTER


@admin.register(Tube, site=site)
class TubeAdmin(OwnAdmin):
    list_display = ("serial", "tube_type", "rebuilds", "received_on", "accepted_on")
    list_filter = [("tube_type", OwnFilter)]
    search_fields = ("serial",)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        """The log names a tube by its serial number."""
        return ("serial",) if obj and is_used(obj) else ()


@admin.register(Antenna, site=site)
class AntennaAdmin(OwnAdmin):
    list_display = ("code", "name", "low_khz", "high_khz")


@admin.register(CoilSet, site=site)
class CoilSetAdmin(OwnAdmin):
    list_display = ("transmitter", "code")
    list_filter = OF_TRANSMITTER


class WaveForm(OwnForm):
    def clean(self) -> dict[str, Any]:
        given = super().clean()
        antenna, frequency_khz = given.get("antenna"), given.get("frequency_khz")
        if antenna and frequency_khz and not antenna.suits(frequency_khz):
            words = {"antenna": antenna, "low": antenna.low_khz, "high": antenna.high_khz}
            sentence = _("Antenna %(antenna)s takes %(low)g to %(high)g kHz: choose another.")
            self.add_error("antenna", ValidationError(sentence, params=words))
        return given


@admin.register(Wave, site=site)
class WaveAdmin(OwnAdmin):
    form = WaveForm
    list_display = ("transmitter", "frequency_khz", "coil_set", "antenna")
    list_filter = OF_TRANSMITTER


class NormalInline(OwnInline):
    model = Normal


class MeterForm(OwnForm):
    quantity = forms.ChoiceField(
        label=_("quantity"), choices=[(one.key, one.label) for one in QUANTITIES.values()]
    )
    unit = forms.ChoiceField(label=_("unit"), choices=[(one, one) for one in sorted(UNITS)])

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        facts = QUANTITIES.get(given.get("quantity", ""))
        if facts and "unit" in given and given["unit"] not in facts.units:
            words = {"quantity": facts.label, "units": ", ".join(facts.units)}
            sentence = _("%(quantity)s is read in %(units)s.")
            self.add_error("unit", ValidationError(sentence, params=words))
        return given


@admin.register(Meter, site=site)
class MeterAdmin(OwnAdmin):
    form = MeterForm
    list_display = ("transmitter", "code", "label", "unit", "panel_group", "sheet_order")
    list_display_links = ("code",)
    list_filter = OF_TRANSMITTER
    list_select_related = ("transmitter",)
    search_fields = ("code", "label")
    inlines = (NormalInline,)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        """What a reading means must not change behind it."""
        frozen = ("transmitter", "code", "quantity", "unit")
        return frozen if obj and is_used(obj) else ()

    def save_related(self, request: HttpRequest, form: Any, formsets: Any, change: bool) -> None:
        super().save_related(request, form, formsets, change)
        meter = form.instance
        first = meter.instruments.first()
        since = first.valid_from if first else datetime.now(UTC)
        tell_limits_changed(meter.transmitter, since)
