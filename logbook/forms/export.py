"""The form of an export: which table, which transmitter, from when to when."""

from datetime import UTC, datetime, time, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.exporting.readings import Span
from logbook.exporting.tables import TABLES
from logbook.forms.fields import DayField
from station.models import Station, Transmitter


class ExportForm(forms.Form):
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
    since = DayField(label=gettext_lazy("From the day, UTC"))
    until = DayField(label=gettext_lazy("To the end of the day, UTC"))

    def __init__(self, *args: Any, station: Station, **options: Any) -> None:
        super().__init__(*args, **options)
        self.station = station
        self.fields["transmitter"].queryset = Transmitter.objects.filter(station=station).order_by(
            "sheet_order", "code"
        )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        since, until = data.get("since"), data.get("until")
        if since and until and until < since:
            self.add_error("until", _("This day is before the first one: exchange the two."))
        return data

    @property
    def transmitters(self) -> list[Transmitter]:
        chosen = self.cleaned_data["transmitter"]
        return [chosen] if chosen else list(self.fields["transmitter"].queryset)

    @property
    def span(self) -> Span:
        since = datetime.combine(self.cleaned_data["since"], time(), UTC)
        until = datetime.combine(self.cleaned_data["until"], time(), UTC)
        return since, until + timedelta(days=1)

    @property
    def file_name(self) -> str:
        data = self.cleaned_data
        code = data["transmitter"].code if data["transmitter"] else self.station.code
        return f"{code}-{data['table']}-{data['since']}-{data['until']}.csv"
