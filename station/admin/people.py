"""People of the station: made, given roles and a new password, retired, never deleted."""

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.db import models
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from station.admin.base import OwnStation
from station.admin.site import site
from station.models import Person


@admin.register(Person, site=site)
class PersonAdmin(OwnStation, UserAdmin):
    list_display = ("username", "first_name", "last_name", "retired_at")
    list_filter = ("groups",)
    filter_horizontal = ()
    fieldsets = (
        (None, {"fields": ("username", "password")}),
        (_("On the log sheet"), {"fields": ("first_name", "last_name")}),
        (_("Roles"), {"fields": ("groups", "retired_at")}),
    )
    add_fieldsets = (
        (None, {"fields": ("username", "first_name", "last_name", "password1", "password2")}),
    )

    def get_queryset(self, request: HttpRequest) -> "models.QuerySet[Person]":
        return super().get_queryset(request).filter(is_superuser=False)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        obj.station = request.user.station
        super().save_model(request, obj, form, change)
