"""The form of a remark: free text with its time."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from logbook.forms.fields import ClockField, DayField, is_future
from logbook.forms.questions import QuestionForm, future_question, utc_instant

LONGEST_REMARK = 2000


class RemarkForm(QuestionForm):
    text = forms.CharField(
        label=gettext_lazy("Remark"),
        max_length=LONGEST_REMARK,
        widget=forms.Textarea(attrs={"rows": 5}),
        error_messages={"required": gettext_lazy("Write what there is to say.")},
    )
    day = DayField(label=gettext_lazy("Day, UTC"))
    clock = ClockField(label=gettext_lazy("Time, UTC"))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("day") and data.get("clock"):
            data["observed_at"] = utc_instant(data["day"], data["clock"])
            if is_future(data["observed_at"], self.now):
                self.ask([future_question(data["observed_at"], self.now, "clock")])
        return data
