"""What all pages of the register share: the own station alone, and no deletion of what is used."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.contrib import admin, messages
from django.db import IntegrityError, models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from station.access import may
from station.admin.site import RIGHT
from station.models import Station, StationOwned


class OwnStation:
    """Rights by role, and rows of the person's own station alone."""

    def has_module_permission(self, request: HttpRequest) -> bool:
        return may(request.user, RIGHT)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return may(request.user, RIGHT)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return may(request.user, RIGHT)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return may(request.user, RIGHT)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return may(request.user, RIGHT)

    def get_queryset(self, request: HttpRequest) -> "models.QuerySet[Any]":
        return super().get_queryset(request).filter(station=request.user.station)

    def get_field_queryset(self, db: str | None, db_field: Any, request: HttpRequest) -> Any:
        """What a choice offers: rows of the own station."""
        return own_rows(db_field.remote_field.model, request)


def own_rows(model: type[models.Model], request: HttpRequest) -> "models.QuerySet[Any]":
    rows = model._default_manager.all()
    if issubclass(model, StationOwned):
        return rows.filter(station=request.user.station)
    return rows


class OwnFilter(admin.RelatedFieldListFilter):
    """A filter beside a list that names only rows of the own station."""

    def field_choices(
        self, field: Any, request: HttpRequest, model_admin: Any
    ) -> list[tuple[Any, str]]:
        return [(row.pk, str(row)) for row in own_rows(field.remote_field.model, request)]


class OwnForm(forms.ModelForm):
    """A form of one station's row: its unique keys are checked with the station in them."""

    station: Station

    def _get_validation_exclusions(self) -> set[str]:
        self.instance.station = self.station
        return super()._get_validation_exclusions() - {"station"}


class OwnAdmin(OwnStation, admin.ModelAdmin):
    form = OwnForm
    exclude = ("station",)
    list_per_page = 200

    def get_form(self, request: HttpRequest, *args: Any, **kwargs: Any) -> type[OwnForm]:
        form = super().get_form(request, *args, **kwargs)
        form.station = request.user.station
        return form

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Two equal rows written at once are seen by the database alone."""
        try:
            return super().changeform_view(request, *args, **kwargs)
        except IntegrityError:
            sentence = _("Two rows say the same: nothing was saved. Take one of them away.")
            self.message_user(request, sentence, messages.ERROR)
            return redirect(request.get_full_path())

    def get_deleted_objects(
        self, objs: Iterable[Any], request: HttpRequest
    ) -> tuple[list[str], dict[str, int], set[str], list[str]]:
        """What would go, and in a sentence each what stands against it."""
        rows = list(objs)
        return [str(row) for row in rows], {}, set(), [one for row in rows for one in uses(row)]


class OwnInline(OwnStation, admin.TabularInline):
    form = OwnForm
    exclude = ("station",)
    extra = 0

    def get_formset(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        formset = super().get_formset(request, *args, **kwargs)
        formset.form.station = request.user.station
        return formset


def uses(row: models.Model) -> list[str]:
    """What refers to a row, counted by kind."""
    counts = (
        (relation.related_model, number_of(relation, row))
        for relation in row._meta.get_fields(include_hidden=True)
        if relation.auto_created and not relation.concrete and not is_through(relation)
    )
    return [
        _("%(row)s is used by %(count)s x %(kind)s: it is kept.")
        % {"row": row, "count": count, "kind": model._meta.verbose_name}
        for model, count in counts
        if count
    ]


def is_through(relation: Any) -> bool:
    return relation.many_to_many or bool(relation.related_model._meta.auto_created)


def number_of(relation: Any, row: models.Model) -> int:
    return relation.related_model._base_manager.filter(**{relation.field.name: row}).count()
