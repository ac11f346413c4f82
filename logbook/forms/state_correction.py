"""The form that writes a change of state anew, with all that it states."""

from datetime import UTC, datetime
from functools import partial
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.bodies import state_body
from logbook.forms.correction import ReasonField
from logbook.forms.state import StateForm
from logbook.models import StateChange
from logbook.services.states import StateDraft
from logbook.standing import standing_at
from logbook.times import minute_of


class StateAnewForm(StateForm):
    """A change of state with all that it states; what is left empty states nothing."""

    is_estimated = forms.BooleanField(label=gettext_lazy("Estimated"), required=False)
    why = ReasonField()

    def __init__(self, data: Any = None, *, of: StateChange, now: datetime) -> None:
        self.of = of
        transmitter = of.entry.transmitter
        super().__init__(
            data,
            transmitter=transmitter,
            now=now,
            stands=partial(standing_at, transmitter, without=of.entry),
            initial=stated(of),
        )
        for name in ("state", "antenna", "coil_set", "set_by"):
            choices = self.fields[name].choices[1:]
            self.fields[name].choices = [("", gettext_lazy("not stated")), *choices]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors and not data["is_retune"] and not any(self.changes().values()):
            raise ValidationError(_("Nothing is stated any more: strike the entry instead."))
        if not self.errors and says_the_same(self.draft(), self.of):
            raise ValidationError(_("Nothing would change: the entry says this already."))
        return data

    def changes(self) -> dict[str, Any]:
        """All that is stated; a coil set that was left goes with a wave that was corrected."""
        data = self.cleaned_data
        wave, is_other_wave = self.waves.get(data["frequency"]), "frequency" in self.changed_data
        if is_other_wave and "coil_set" not in self.changed_data and wave and wave.coil_set:
            coil_set = wave.coil_set
        else:
            coil_set = self.coil_sets.get(data["coil_set"])
        return {
            "state": data["state"],
            "frequency_khz": data["frequency"],
            "antenna": self.antennas.get(data["antenna"]),
            "coil_set": coil_set,
            "power_kw": data["power"],
            "set_by": data["set_by"],
        }

    def draft(self) -> StateDraft:
        data, known = self.cleaned_data, self.of.entry.observed_at
        is_same_minute = minute_of(data["observed_at"]) == minute_of(known)
        return StateDraft(
            transmitter=self.transmitter,
            observed_at=known if is_same_minute else data["observed_at"],
            **self.changes(),
            is_retune=data["is_retune"],
            is_estimated=data["is_estimated"],
            reason=data["reason"],
            in_place_of=self.of.entry,
        )


def stated(change: StateChange) -> dict[str, Any]:
    """What a change of state says, for the fields of its form."""
    at = change.entry.observed_at.astimezone(UTC)
    return {
        "state": change.state,
        "frequency": plain_number(change.frequency_khz),
        "antenna": change.antenna.code if change.antenna else "",
        "coil_set": change.coil_set.code if change.coil_set else "",
        "power": plain_number(change.power_kw),
        "set_by": change.set_by,
        "is_retune": change.is_retune,
        "is_estimated": change.is_estimated,
        "day": at.date(),
        "observed": at.time(),
        "reason": change.reason,
    }


def plain_number(value: float | None) -> str:
    return "" if value is None else f"{value:.12g}"


def says_the_same(draft: StateDraft, change: StateChange) -> bool:
    is_same_time = draft.observed_at == change.entry.observed_at
    return is_same_time and state_body(draft.row()) == state_body(change)
