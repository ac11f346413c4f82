"""The form of an export: which table, which transmitter, from when to when."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from logbook.exporting.tables import TABLES
from logbook.forms.days import DaysForm
from station.models import Station, Transmitter


class ExportForm(DaysForm):
    table = forms.ChoiceField(
        label=gettext_lazy("Table"), choices=[(one.name, one.label) for one in TABLES.values()]
    )
    transmitter = forms.ModelChoiceField(
        Transmitter.objects.none(),
        label=gettext_lazy("Transmitter"),
        required=False,
        to_field_name="code",
        empty_label=gettext_lazy("all"),
        error_messages={"invalid_choice": gettext_lazy("Choose one of this station, or all.")},
    )

    field_order = ("table", "transmitter", "since", "until")

    def __init__(self, *args: Any, station: Station, **options: Any) -> None:
        super().__init__(*args, **options)
        self.station = station
        self.fields["transmitter"].queryset = Transmitter.objects.filter(station=station).order_by(
            "sheet_order", "code"
        )

    @property
    def transmitters(self) -> list[Transmitter]:
        chosen = self.cleaned_data["transmitter"]
        return [chosen] if chosen else list(self.fields["transmitter"].queryset)

    @property
    def file_name(self) -> str:
        data = self.cleaned_data
        code = data["transmitter"].code if data["transmitter"] else self.station.code
        return f"{code}-{data['table']}-{data['since']}-{data['until']}.csv"
