"""The begin and the end of an interruption, as they are typed beside a transmitter that is off."""

from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.forms.fields import ClockField, DayField, is_future
from logbook.forms.questions import QuestionForm, TimedForm, future_question, utc_instant
from logbook.models import Interruption, LossCause, LossSource
from station.models import Station, Transmitter

CHOOSE = [("", gettext_lazy("choose"))]


def text_field(name: str) -> forms.CharField:
    column = Interruption._meta.get_field(name)
    return forms.CharField(
        label=column.verbose_name.capitalize(), max_length=column.max_length, required=False
    )


class InterruptionForm(QuestionForm):
    transmitters = forms.ModelMultipleChoiceField(
        Transmitter.objects.none(),
        label=gettext_lazy("Which transmitters"),
        widget=forms.CheckboxSelectMultiple,
        to_field_name="code",
        error_messages={
            "required": gettext_lazy("Choose at least one."),
            "invalid_choice": gettext_lazy("Choose among those of this station."),
            "invalid_list": gettext_lazy("Choose among those of this station."),
        },
    )
    day = DayField(label=gettext_lazy("Day, UTC"))
    clock = ClockField(label=gettext_lazy("Begin, UTC, with seconds if known"))
    loss_source = forms.ChoiceField(
        label=gettext_lazy("Whose loss"), choices=[*CHOOSE, *LossSource.choices]
    )
    cause = forms.ChoiceField(
        label=gettext_lazy("Cause, as far as it is known"), choices=[*CHOOSE, *LossCause.choices]
    )
    power_kw = forms.FloatField(
        label=gettext_lazy("Power that is left, kW"),
        required=False,
        min_value=0,
        help_text=gettext_lazy("Leave it blank where all is lost."),
        widget=forms.TextInput(attrs={"inputmode": "decimal", "size": 8}),
    )
    first_indicator = text_field("first_indicator")
    indicators = text_field("indicators")
    recycles = forms.IntegerField(
        label=gettext_lazy("Recycles"),
        required=False,
        min_value=0,
        max_value=999,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "size": 4}),
    )
    is_locked_out = forms.BooleanField(label=gettext_lazy("Locked out"), required=False)
    equipment = text_field("equipment")
    agreed_day = DayField(label=gettext_lazy("Planned work: agreed end, day"), required=False)
    agreed_clock = ClockField(label=gettext_lazy("and time, UTC"), required=False)
    note = text_field("note")

    def __init__(self, *args: Any, station: Station, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["transmitters"].queryset = Transmitter.objects.filter(station=station)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        day, clock = data.get("day"), data.get("clock")
        self.clean_agreed(data)
        if day and clock:
            data["begin"] = utc_instant(day, clock)
            if is_future(data["begin"], self.now):
                self.ask([future_question(data["begin"], self.now, "clock")])
        return data

    def clean_agreed(self, data: dict[str, Any]) -> None:
        day, clock = data.get("agreed_day"), data.get("agreed_clock")
        if bool(day) != bool(clock):
            empty = "agreed_clock" if day else "agreed_day"
            if empty not in self.errors:
                self.add_error(empty, _("Write day and time, or leave both blank."))
        data["agreed_end"] = utc_instant(day, clock) if day and clock else None

    @property
    def facts(self) -> dict[str, Any]:
        """The columns of Interruption."""
        data = self.cleaned_data
        names = ("loss_source", "cause", "power_kw", "agreed_end", "equipment", "first_indicator")
        facts = {name: data[name] for name in (*names, "indicators", "is_locked_out", "note")}
        return {**facts, "recycles": data["recycles"] or 0}


class RestorationForm(TimedForm):
    clock = ClockField(label=gettext_lazy("End, UTC, with seconds if known"))
    found = forms.CharField(
        label=gettext_lazy("What was found and done"), max_length=300, required=False
    )
    mode = forms.CharField(
        label=gettext_lazy("How it showed (failure mode)"), max_length=80, required=False
    )
    mechanism = forms.CharField(
        label=gettext_lazy("What failed (mechanism)"), max_length=80, required=False
    )
    repair_min = forms.IntegerField(
        label=gettext_lazy("Active repair, minutes"),
        required=False,
        min_value=0,
        max_value=100_000,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "size": 6}),
    )

    field_order = ("day", "clock", "found", "mode", "mechanism", "repair_min")

    def __init__(self, *args: Any, begin: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.begin = begin

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("observed_at") and data["observed_at"] < self.begin:
            sentence = _("It began at %(begin)s UTC: the end cannot lie before that.")
            self.add_error("clock", sentence % {"begin": f"{self.begin:%Y-%m-%d %H:%M:%S}"})
        return data

    @property
    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("found", "mode", "mechanism")} | {
            "repair_min": self.cleaned_data["repair_min"]
        }
