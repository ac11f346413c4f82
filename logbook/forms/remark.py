"""The form of a remark: free text with its time."""

from django import forms
from django.utils.translation import gettext_lazy

from logbook.forms.questions import TimedForm

LONGEST_REMARK = 2000


class RemarkForm(TimedForm):
    text = forms.CharField(
        label=gettext_lazy("Remark"),
        max_length=LONGEST_REMARK,
        widget=forms.Textarea(attrs={"rows": 5}),
        error_messages={"required": gettext_lazy("Write what there is to say.")},
    )

    field_order = ("text", "day", "clock")
