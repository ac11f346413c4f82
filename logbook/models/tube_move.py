"""A tube goes from one place to another: into a socket, out of it, from one to the next."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import EntryChild
from station.models import Socket, Tube


class TubePlace(models.TextChoices):
    """Where a tube is that stands in no socket."""

    SHELF = "shelf", _("on the shelf")
    REBUILDER = "rebuilder", _("at the rebuilder")
    RETURNED = "returned", _("given back to the maker")
    SCRAPPED = "scrapped", _("scrapped")


class RemovalReason(models.TextChoices):
    """Why a tube left its socket: the reasons compete, so that a life that another one cut
    short is not taken for a full one.
    """

    WEAK = "weak", _("emission weak")
    GAS = "gas", _("gas or arcs")
    SHORT = "short", _("short or open filament")
    ACCIDENT = "accident", _("accident: water, handling, overload")
    PRECAUTION = "precaution", _("precaution or rotation")
    SEARCH = "search", _("moved to find a fault")


class TubeMove(EntryChild):
    """``place`` is said where there is no ``to_socket``."""

    tube = models.ForeignKey(Tube, models.PROTECT, related_name="moves")
    from_socket = models.ForeignKey(
        Socket, models.PROTECT, null=True, related_name="+", db_index=False
    )
    to_socket = models.ForeignKey(
        Socket, models.PROTECT, null=True, related_name="+", db_index=False
    )
    place = models.CharField(_("place"), max_length=12, blank=True, choices=TubePlace.choices)
    reason = models.CharField(
        _("why it left its socket"), max_length=12, blank=True, choices=RemovalReason.choices
    )
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        verbose_name = _("move of a tube")

    def __str__(self) -> str:
        return f"{self.entry}: {self.tube}"
