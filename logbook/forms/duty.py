"""What the off-going shift says, and what the oncoming one signs."""

from django import forms
from django.utils.translation import gettext_lazy

from logbook.forms.questions import QuestionForm


class HandoverForm(QuestionForm):
    notes = forms.CharField(
        label=gettext_lazy("Work half done, what was bridged or defeated, spares used, advice"),
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
    )


class DutyForm(QuestionForm):
    qualification = forms.CharField(
        label=gettext_lazy("Number of your qualification"), max_length=40, required=False
    )
    note = forms.CharField(
        label=gettext_lazy("What you asked, or found otherwise"), max_length=300, required=False
    )
