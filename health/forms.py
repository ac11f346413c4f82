"""The forms of the analysis: an answer to a flag, an instant that is asked for."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from health.boards.flags import FlagLine
from health.lifecycle import Life
from health.summaries import NO_WAVE
from health.words import air_words
from logbook.forms.days import DaysForm
from logbook.forms.fields import NumberField
from logbook.models import FlagVerb
from station.models import Meter, Priority

LONGEST_COMMENT = 500
USUAL_GAP_H, LONGEST_GAP_H = 6.0, 240.0


class FlagForm(forms.Form):
    """Acknowledge asks for a comment where the priority is high; closing asks for the cause."""

    verb = forms.ChoiceField(choices=FlagVerb.choices, widget=forms.HiddenInput)
    comment = forms.CharField(
        label=_("Comment, or the cause when closing"),
        max_length=LONGEST_COMMENT,
        required=False,
        widget=forms.TextInput,
    )

    def __init__(self, *args: Any, line: FlagLine, **options: Any) -> None:
        super().__init__(*args, **options)
        self.line = line

    @property
    def may_acknowledge(self) -> bool:
        return self.line.needs_a_person

    @property
    def is_wanted(self) -> bool:
        return self.may_acknowledge or self.may_close

    @property
    def may_close(self) -> bool:
        return self.line.life in {Life.RETURNED, Life.RETURNED_OPEN}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        verb, comment = data.get("verb"), data.get("comment", "")
        if verb == FlagVerb.CLOSE and not self.may_close:
            self.add_error(
                "comment",
                _("The value has not returned: acknowledge the flag, and close it once it has."),
            )
        elif verb == FlagVerb.CLOSE and not comment:
            self.add_error("comment", _("What was the cause? Write a few words, or 'unknown'."))
        elif verb == FlagVerb.ACKNOWLEDGE and self.is_pressing and not comment:
            self.add_error("comment", _("This flag is of high priority: say what is being done."))
        return data

    @property
    def is_pressing(self) -> bool:
        return self.line.episode.priority == Priority.HIGH


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
