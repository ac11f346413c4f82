"""What the off-going shift says, and what the oncoming one signs."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.forms.fields import ClockField, DayField
from logbook.forms.questions import QuestionForm, utc_instant
from logbook.state_questions import Question


class HandoverForm(QuestionForm):
    notes = forms.CharField(
        label=gettext_lazy("Work half done, what was bridged or defeated, spares used, advice"),
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
    )
    until_day = DayField(
        label=gettext_lazy("Nobody takes over: the station is unstaffed until, day"), required=False
    )
    until_clock = ClockField(label=gettext_lazy("and time, UTC"), required=False)

    def __init__(self, *args: Any, running: Sequence[str] = (), **options: Any) -> None:
        """``running`` are the transmitters that have HT on by the log."""
        super().__init__(*args, **options)
        self.running = running

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        day, clock = data.get("until_day"), data.get("until_clock")
        data["unstaffed_until"] = utc_instant(day, clock) if day and clock else None
        if bool(day) != bool(clock) and not self.errors:
            self.add_error("until_clock", _("Write day and time, or leave both blank."))
        if data["unstaffed_until"]:
            self.clean_closing(data)
        return data

    def clean_closing(self, data: dict[str, Any]) -> None:
        """A closing entry says as much as a relief face to face would."""
        if data["unstaffed_until"] <= self.now:
            self.add_error("until_clock", _("That is past: write when somebody comes again."))
        if not data.get("notes"):
            self.add_error(
                "notes", _("Nobody will be there to be asked: write what they must know.")
            )
        if self.running and not self.errors:
            sentence = _("By the log HT is on: %(which)s. Is the station left with it on?")
            facts = {"which": _(", ").join(self.running)}
            self.ask([Question("left-running", "until_day", sentence % facts)])


class DutyForm(QuestionForm):
    qualification = forms.CharField(
        label=gettext_lazy("Number of your qualification"), max_length=40, required=False
    )
    note = forms.CharField(
        label=gettext_lazy("What you asked, or found otherwise"), max_length=300, required=False
    )
