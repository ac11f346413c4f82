"""Days of the log that are held, and their release."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from logbook.forms.days import DaysForm


class HoldForm(DaysForm):
    reason = forms.CharField(label=gettext_lazy("Why they are held"), max_length=200)
    reference = forms.CharField(
        label=gettext_lazy("By which paper"), max_length=120, required=False
    )

    @property
    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("since", "until", "reason", "reference")}


class ReleaseForm(forms.Form):
    reference = forms.CharField(
        label=gettext_lazy("Released by which paper"),
        max_length=120,
        help_text=gettext_lazy("Who released it, of which day: a hold ends in writing alone."),
    )
