"""The form of the analysis that asks for a span of a meter's history."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from health.summaries import NO_WAVE
from health.words import air_words
from logbook.forms.days import DaysForm
from logbook.forms.fields import NumberField
from station.models import Meter

USUAL_GAP_H, LONGEST_GAP_H = 6.0, 240.0


class HistoryForm(DaysForm):
    """A span, one wave or all, and a second meter to set beside the first."""

    wave = forms.ChoiceField(
        label=_("Wave"),
        required=False,
        error_messages={"invalid_choice": _("Choose one of the transmitter's waves, or all.")},
    )
    against = forms.ModelChoiceField(
        Meter.objects.none(),
        label=_("Beside it"),
        required=False,
        empty_label=_("nothing"),
        error_messages={"invalid_choice": _("Choose a meter of this station, or nothing.")},
    )

    def __init__(self, *args: Any, meter: Meter, **options: Any) -> None:
        super().__init__(*args, **options)
        waves = sorted(set(meter.transmitter.waves.values_list("frequency_khz", flat=True)))
        of_waves = [(f"{wave:g}", air_words(wave)) for wave in [*waves, NO_WAVE]]
        self.fields["wave"].choices = [("", _("all")), *of_waves]
        others = Meter.objects.filter(station=meter.station_id).exclude(pk=meter.pk)
        self.fields["against"].queryset = others.select_related(
            "transmitter__station", "stage", "socket"
        ).order_by("transmitter__sheet_order", "sheet_order")

    @property
    def wave_khz(self) -> float | None:
        chosen = self.cleaned_data["wave"]
        return float(chosen) if chosen else None


class GapForm(forms.Form):
    """How long a gap between two programmes is."""

    gap = NumberField("h", label=_("Length of the gap"))

    def clean_gap(self) -> float:
        gap = self.cleaned_data["gap"]
        if not 0 < gap <= LONGEST_GAP_H:
            most = {"most": LONGEST_GAP_H}
            raise forms.ValidationError(_("Write hours above 0 and up to %(most)g.") % most)
        return gap
