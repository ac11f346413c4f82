"""A change of state, wave, antenna, coil set or power; what is left empty did not change."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import EntryChild
from station.models import Antenna, CoilSet
from station.states import PowerSetBy, State


class StateChange(EntryChild):
    """What changed at one instant. A retune begins a new run."""

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

    def __str__(self) -> str:
        return f"{self.entry} {self.state}"
