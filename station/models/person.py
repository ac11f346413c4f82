"""A person of the station; retired, never deleted, because the log names them."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _


class Person(AbstractUser):
    """Someone who signs in under their own name; ``station`` None is the installer alone."""

    station = models.ForeignKey(
        "station.Station",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="people",
        verbose_name=_("station"),
    )
    retired_at = models.DateTimeField(_("retired at"), null=True, blank=True)

    class Meta(AbstractUser.Meta):
        verbose_name = _("person")
        verbose_name_plural = _("people")

    @property
    def written_name(self) -> str:
        """The name as it stands on a log sheet."""
        return self.get_full_name() or self.username
