"""What the register says of a tube; where it stands is written in the log."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _

from logbook.forms.fields import DayField
from logbook.models import TubeMove
from station.models import Tube, TubeType

DAYS = ("received_on", "accepted_on", "run_up_on", "conditioned_on", "warranty_until")


class TubeFactsForm(forms.ModelForm):
    class Meta:
        model = Tube
        fields = ("serial", "tube_type", "rebuilds", "earlier_h", *DAYS, "warranty_h", "note")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        own_types = TubeType.objects.filter(station=self.instance.station)
        self.fields["tube_type"].queryset = own_types
        for name in DAYS:
            known = self.fields[name]
            self.fields[name] = DayField(
                label=known.label, required=known.required, help_text=known.help_text
            )
        if self.instance.pk and TubeMove.objects.filter(tube=self.instance).exists():
            self.fields["serial"].disabled = True
            self.fields["serial"].help_text = _("The log names the tube by it: it stays.")
            self.fields["tube_type"].disabled = True

    def clean_serial(self) -> str:
        """One tube a serial number: the station is not among the form's own fields."""
        serial = self.cleaned_data["serial"]
        same = Tube.objects.filter(station=self.instance.station, serial=serial)
        if same.exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError(_("A tube with this serial number is there already."))
        return serial
