from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate
from django.utils.translation import gettext_lazy as _

from logbook import triggers


class LogbookConfig(AppConfig):
    name = "logbook"
    verbose_name = _("log")
    navigation = (
        ("transmitters", _("Rounds")),
        ("interruptions", _("Interruptions")),
        ("permits", _("Permits")),
        ("checks", _("Tests")),
        ("duty", _("Duty")),
    )

    def ready(self) -> None:
        pre_migrate.connect(triggers.lift_before_migrate, sender=self)
        post_migrate.connect(triggers.install_after_migrate, sender=self)
        import_module("logbook.listeners")  # connects itself; needs the models
