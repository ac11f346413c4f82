"""A permit that is given out, and its return: two names each."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.forms.questions import TimedForm
from logbook.models import Permit
from logbook.state_guards import antenna_in_use
from station.models import Antenna, Station, Transmitter


def whole_number(label: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        min_value=0,
        max_value=99,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "size": 4}),
    )


class PermitForm(TimedForm):
    transmitter = forms.ModelChoiceField(
        Transmitter.objects.none(),
        label=gettext_lazy("Transmitter"),
        to_field_name="code",
        empty_label=gettext_lazy("none: on an antenna"),
        required=False,
        error_messages={"invalid_choice": gettext_lazy("Choose one of this station.")},
    )
    antenna = forms.ModelChoiceField(
        Antenna.objects.none(),
        label=gettext_lazy("Antenna, with its mast and feeder"),
        to_field_name="code",
        empty_label=gettext_lazy("none: on a transmitter"),
        required=False,
        error_messages={"invalid_choice": gettext_lazy("Choose one of this station.")},
    )
    beside = forms.CharField(
        label=gettext_lazy("Allowed on the antennas beside it: waves and power"),
        max_length=120,
        required=False,
    )
    number = forms.CharField(label=gettext_lazy("Number of the permit"), max_length=20)
    holder = forms.CharField(label=gettext_lazy("Who holds it"), max_length=80)
    authorised_by = forms.CharField(label=gettext_lazy("Authorised person"), max_length=80)
    work = forms.CharField(label=gettext_lazy("Work"), max_length=200)
    earths = whole_number(gettext_lazy("Earth sticks out"))

    field_order = (
        "transmitter",
        "antenna",
        "beside",
        "number",
        "holder",
        "authorised_by",
        "work",
        "earths",
    )

    def __init__(self, *args: Any, station: Station, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["transmitter"].queryset = Transmitter.objects.filter(station=station)
        self.fields["antenna"].queryset = Antenna.objects.filter(station=station)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        transmitter, antenna = data.get("transmitter"), data.get("antenna")
        if (transmitter is None) == (antenna is None) and not self.errors:
            sentence = _("Say what is worked on: one transmitter, or one antenna.")
            self.add_error("transmitter", sentence)
        if antenna and data.get("observed_at") and not self.errors:
            self.ask(antenna_in_use(antenna, data["observed_at"]))
        return data

    @property
    def facts(self) -> dict[str, Any]:
        names = ("number", "holder", "authorised_by", "work", "earths", "antenna", "beside")
        return {name: self.cleaned_data[name] for name in names}


class PermitReturnForm(TimedForm):
    """Fewer earth sticks back than went out is asked about: one may still hang inside."""

    earths_back = whole_number(gettext_lazy("Earth sticks back"))
    seen_by = forms.CharField(label=gettext_lazy("Second person who saw it"), max_length=80)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)

    field_order = ("earths_back", "seen_by", "note")

    def __init__(self, *args: Any, permit: Permit, **options: Any) -> None:
        super().__init__(*args, **options)
        self.permit = permit

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        back, out = data.get("earths_back"), self.permit.earths
        if back is not None and back != out:
            sentence = _(
                "%(out)s earth sticks went out: find every one of them before it is returned."
            )
            self.add_error("earths_back", sentence % {"out": out})
        if data.get("observed_at") and data["observed_at"] < self.permit.entry.observed_at:
            self.add_error("clock", _("It was given out after that."))
        return data

    @property
    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("earths_back", "seen_by", "note")}
