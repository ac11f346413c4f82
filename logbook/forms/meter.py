"""The form of an instrument's change: what the old one read last, what the new one is."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.counters import Gain, counter_with, gain_between
from logbook.forms.fields import ClockField, DayField, KeyField, is_future
from logbook.forms.questions import QuestionForm, future_question, utc_instant
from logbook.models.meter_change import FACTS
from logbook.queries import newest_numbers
from logbook.services.meters import MeterDraft
from logbook.state_questions import Question
from logbook.times import hours_of, minute_of
from station.models import Instrument, Meter
from station.register.versions import newest_version

NUMBER = re.compile(r"-?\d{1,9}(?:[.,]\d{1,6})?", re.ASCII)


class NumberField(forms.CharField):
    """A number as typed, with a comma or a point."""

    def __init__(self, *, is_positive: bool = False, **options: Any) -> None:
        self.is_positive = is_positive
        attributes = {"size": 10, "inputmode": "decimal", "autocomplete": "off"}
        widget = forms.TextInput(attrs=attributes)
        super().__init__(max_length=20, widget=widget, **options)

    def clean(self, value: Any) -> float | None:
        typed = super().clean(value)
        if not typed:
            return None
        if not NUMBER.fullmatch(typed):
            sentence = _("'%(typed)s' is not a number: write digits, such as 41230.5.")
            raise ValidationError(sentence % {"typed": typed})
        number = float(typed.replace(",", "."))
        if self.is_positive and number <= 0:
            raise ValidationError(_("Write a number above zero."))
        return number


class MeterForm(QuestionForm):
    day = DayField(label=gettext_lazy("Day, UTC"))
    clock = ClockField(label=gettext_lazy("Time, UTC"))
    old_last = NumberField(label=gettext_lazy("Last reading of the old one"), required=False)
    new_first = NumberField(label=gettext_lazy("First reading of the new one"), required=False)
    scale_low = NumberField(label=gettext_lazy("Bottom of the new scale"))
    full_scale = NumberField(label=gettext_lazy("Full scale of the new one"))
    lower_full_scale = NumberField(
        label=gettext_lazy("Full scale of its lower range, if any"), required=False
    )
    step = NumberField(label=gettext_lazy("Smallest step read"), is_positive=True)
    class_percent = NumberField(
        label=gettext_lazy("Class, per cent of full scale"), required=False, is_positive=True
    )
    scale_law = forms.ChoiceField(
        label=gettext_lazy("Scale law"),
        choices=Instrument._meta.get_field("scale_law").choices,
    )
    note = forms.CharField(label=gettext_lazy("Note"), required=False, max_length=200)
    client_key = KeyField()

    def __init__(self, data: Any = None, *, meter: Meter, **options: Any) -> None:
        self.meter = meter
        self.newest = newest_version(Instrument(meter=meter))
        super().__init__(data, **options)
        for name in FACTS:
            self.initial.setdefault(name, getattr(self.newest, name, ""))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("day") and data.get("clock") and not self.errors:
            data["observed_at"] = utc_instant(data["day"], data["clock"])
            self.look_at(data)
            if not self.errors:
                self.ask(self.questions(data))
        return data

    def look_at(self, data: dict[str, Any]) -> None:
        if data["full_scale"] <= data["scale_low"]:
            self.add_error("full_scale", _("The full scale is above the bottom of the scale."))
        if self.newest and data["observed_at"] <= self.newest.valid_from:
            sentence = _(
                "The instrument known now hangs there from %(at)s UTC: write a later time."
            )
            self.add_error("day", sentence % {"at": f"{self.newest.valid_from:%Y-%m-%d %H:%M}"})
        if data["scale_law"] == "counter":
            for name in ("old_last", "new_first"):
                if data[name] is None:
                    self.add_error(
                        name, _("Of a counter both readings are needed: hours hang on it.")
                    )

    def questions(self, data: dict[str, Any]) -> list[Question]:
        at = data["observed_at"]
        asked = [self.gain_question(data)] if data["scale_law"] == "counter" else []
        if is_future(at, self.now):
            asked.append(future_question(at, self.now, "clock"))
        return [question for question in asked if question]

    def gain_question(self, data: dict[str, Any]) -> Question | None:
        """Whether the old counter can have come to its last reading."""
        found = newest_numbers([self.meter.pk], minute_of(data["observed_at"]))
        before = found.get(self.meter.pk)
        if before is None or self.newest is None:
            return None
        counter = counter_with(self.newest.full_scale, self.newest.step)
        elapsed = hours_of(data["observed_at"]) - before.minute / 60
        kind, _gain = gain_between(elapsed, before.value, data["old_last"], counter)
        if kind in {Gain.COUNTED, Gain.ROLLOVER}:
            return None
        sentence = _(
            "It read %(before)g, %(elapsed).1f h before: it cannot have come to %(last)g. Look "
            "again; if it is so, the hours between are estimated from the state log."
        )
        facts = {"before": before.value, "elapsed": elapsed, "last": data["old_last"]}
        return Question(f"gain:{data['old_last']:g}", "old_last", sentence % facts)

    def draft(self) -> MeterDraft:
        data = self.cleaned_data
        facts = {name: data[name] for name in FACTS}
        return MeterDraft(
            meter=self.meter,
            observed_at=data["observed_at"],
            instrument=Instrument(
                station=self.meter.station,
                meter=self.meter,
                valid_from=data["observed_at"],
                **facts,
            ),
            old_last=data["old_last"],
            new_first=data["new_first"],
            note=data["note"],
            client_key=data["client_key"],
        )
