"""A change of state, wave, antenna, coil set or power; what is left empty did not change."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import EntryChild
from station.models import Antenna, CoilSet, Transmitter
from station.states import PowerSetBy, State

STATED = {
    "state": Q(state__gt=""),
    "frequency_khz": Q(frequency_khz__isnull=False),
    "antenna": Q(antenna__isnull=False),
    "coil_set": Q(coil_set__isnull=False),
    "power_kw": Q(power_kw__isnull=False),
    "set_by": Q(set_by__gt=""),
    "is_retune": Q(is_retune=True),
}
"""When a change says something of a column."""


class StateChange(EntryChild):
    """What changed at one instant. A retune begins a new run.

    ``transmitter`` and ``observed_at`` are the entry's own, once more: only within one table can
    an index find the last statement of a column, which may lie years back.
    """

    transmitter = models.ForeignKey(Transmitter, models.PROTECT, related_name="+", db_index=False)
    observed_at = models.DateTimeField(_("observed at"))
    state = models.CharField(_("state"), max_length=12, blank=True, choices=State.choices)
    frequency_khz = models.FloatField(_("frequency, kHz"), null=True)
    antenna = models.ForeignKey(Antenna, models.PROTECT, null=True, db_index=False)
    coil_set = models.ForeignKey(CoilSet, models.PROTECT, null=True, db_index=False)
    power_kw = models.FloatField(_("power, kW"), null=True)
    set_by = models.CharField(
        _("power set by"), max_length=8, blank=True, choices=PowerSetBy.choices
    )
    is_retune = models.BooleanField(_("retuned"), default=False)
    is_estimated = models.BooleanField(_("estimated"), default=False)
    reason = models.CharField(_("reason"), max_length=200, blank=True)

    class Meta:
        verbose_name = _("change of state")
        indexes = [
            models.Index(
                fields=["transmitter", "observed_at"], condition=is_stated, name=f"stated_{column}"
            )
            for column, is_stated in STATED.items()
        ] + [
            models.Index(
                fields=["transmitter", "observed_at"],
                condition=Q(state=State.TRIPPED),
                name="tripped",
            )
        ]

    def __str__(self) -> str:
        return f"{self.entry} {self.state}"
