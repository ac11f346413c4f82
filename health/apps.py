from importlib import import_module

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

from logbook import port


class HealthConfig(AppConfig):
    name = "health"
    verbose_name = _("health")
    navigation = (
        ("hall", _("Hall")),
        ("this_week", _("Week")),
        ("flags", _("Flags")),
        ("tubes", _("Tubes")),
    )

    def ready(self) -> None:
        port.provide("health.answers")
        import_module("health.listeners")  # connects itself; needs the models
