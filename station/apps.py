from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate
from django.utils.translation import gettext_lazy as _


class StationConfig(AppConfig):
    name = "station"
    verbose_name = _("station")
    navigation = (("schedule", _("Schedule")),)

    def ready(self) -> None:
        post_migrate.connect(make_roles, sender=self)


def make_roles(*, using: str, **kwargs: Any) -> None:
    """The four roles are groups; which right each has stands in station.access."""
    from django.contrib.auth.models import Group  # models are not loaded when this file is read

    from station.access import ROLES

    for name in ROLES:
        Group.objects.using(using).get_or_create(name=name)
