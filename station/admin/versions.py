"""Limits and instruments: saving makes a new version, the old one stays as it was."""

from datetime import UTC, datetime
from typing import Any

from django.contrib import admin
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy as _

from station.admin.base import OwnAdmin, OwnFilter, OwnForm
from station.admin.site import site
from station.models import Instrument, Limit
from station.register.checks import BOUNDS, limit_faults, scale_faults
from station.register.rows import KINDS, Row
from station.register.versions import newest_version, save_version
from station.signals import tell_limits_changed

LONGEST_REASON = 200
CONDITIONS = ("meter", "state", "frequency_khz", "power_kw", "modulation")


class VersionForm(OwnForm):
    """Offers the present values with the present instant."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if "valid_from" in self.fields:  # not on a page that only shows
            self.fields["valid_from"].help_text = _("UTC")
            self.initial["valid_from"] = datetime.now(UTC).replace(second=0, microsecond=0)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if "valid_from" in given and not self.errors:
            self.refuse_earlier(given)
        return given

    def refuse_earlier(self, given: dict[str, Any]) -> None:
        wanted = self._meta.model(**{**self.place(), **self.given_place(given)})
        newest = newest_version(wanted)
        if newest and given["valid_from"] <= newest.valid_from:
            sentence = _("A version is in force from %(known)s UTC: write a later instant.")
            words = {"known": f"{newest.valid_from:%Y-%m-%d %H:%M:%S}"}
            self.add_error("valid_from", ValidationError(sentence, params=words))

    def place(self) -> dict[str, Any]:
        """The meter and conditions of the version before, which this page does not change."""
        if self.instance.pk is None:
            return {}
        return {name: getattr(self.instance, name) for name in self.place_names()}

    def given_place(self, given: dict[str, Any]) -> dict[str, Any]:
        return {name: given[name] for name in self.place_names() if name in given}

    def place_names(self) -> tuple[str, ...]:
        return tuple(name for name in CONDITIONS if hasattr(self._meta.model, name))


class LimitForm(VersionForm):
    """``wanted_reason`` is offered: the page that led here knows why."""

    wanted_reason = ""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["reason"] = self.wanted_reason

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        place = {**self.place(), **self.given_place(given)}
        if self.errors or place.get("meter") is None:
            return given
        is_withdrawn = all(given.get(name) is None for name in BOUNDS)
        for sentence in [] if is_withdrawn else self.sentences(given, place):
            self.add_error(None, sentence)
        return given

    def sentences(self, given: dict[str, Any], place: dict[str, Any]) -> list[str]:
        """The register file's own checks of a limit."""
        fields = {name: given.get(name) for name in KINDS["limit"].fields}
        row = Row(KINDS["limit"], {**fields, **place, "meter": "meter"})
        instrument = place["meter"].instruments.last()
        scale = KINDS["instrument"]
        values = {name: getattr(instrument, name) for name in scale.fields} if instrument else None
        rows = {"meter.instrument": Row(scale, values)} if values else {}
        return [fault.sentence for fault in (*limit_faults(row), *scale_faults(row, rows))]


class VersionAdmin(OwnAdmin):
    """Only the newest version can be the ground for a newer one."""

    save_on_top = True

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return super().has_change_permission(request) and (
            obj is None or obj.pk == newest_version(obj).pk
        )

    def render_change_form(self, request: HttpRequest, context: Any, **kwargs: Any) -> HttpResponse:
        """Saved, the page's row is an old version: there is nothing to continue."""
        context["show_save_and_continue"] = False
        return super().render_change_form(request, context, **kwargs)

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        save_version(obj, newest_version(obj))
        tell_limits_changed(obj.meter.transmitter, obj.valid_from)


@admin.register(Limit, site=site)
class LimitAdmin(VersionAdmin):
    form = LimitForm
    fields = (*CONDITIONS, *BOUNDS, "is_from_normal", "deadband", "priority", "advice") + (
        *("consequence", "allowed_min", "valid_from", "reason"),
    )
    list_display = ("meter", *CONDITIONS[1:], *BOUNDS, "valid_from", "author", "reason")
    list_filter = [("meter__transmitter", OwnFilter), "state", "modulation"]
    list_select_related = ("meter__transmitter", "author")
    search_fields = ("meter__code", "meter__label")

    def get_form(self, request: HttpRequest, *args: Any, **kwargs: Any) -> type[OwnForm]:
        form = super().get_form(request, *args, **kwargs)
        form.wanted_reason = request.GET.get("reason", "")[:LONGEST_REASON]
        return form

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        return CONDITIONS if obj else ()

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        obj.author = request.user
        super().save_model(request, obj, form, change)


@admin.register(Instrument, site=site)
class InstrumentAdmin(VersionAdmin):
    form = VersionForm
    exclude = ("station", "valid_until")
    list_display = ("meter", "full_scale", "step", "class_percent", "valid_from", "valid_until")
    list_filter = [("meter__transmitter", OwnFilter)]
    list_select_related = ("meter__transmitter",)
    search_fields = ("meter__code", "meter__label")

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        return ("meter",) if obj else ()

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        obj.valid_until = None
        super().save_model(request, obj, form, change)
