"""The forms of the analysis: an answer to a flag, an instant that is asked for."""

from datetime import UTC, datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from health.boards.flags import FlagLine
from health.lifecycle import Life
from logbook.forms.fields import ClockField, DayField
from logbook.models import FlagVerb
from station.models import Priority

LONGEST_COMMENT = 500


class FlagForm(forms.Form):
    """Acknowledge asks for a comment where the priority is high; closing asks for the cause."""

    verb = forms.ChoiceField(choices=FlagVerb.choices, widget=forms.HiddenInput)
    comment = forms.CharField(
        label=_("Comment, or the cause when closing"),
        max_length=LONGEST_COMMENT,
        required=False,
        widget=forms.TextInput,
    )

    def __init__(self, *args: Any, line: FlagLine, **options: Any) -> None:
        super().__init__(*args, **options)
        self.line = line

    @property
    def may_acknowledge(self) -> bool:
        return self.line.needs_a_person

    @property
    def is_wanted(self) -> bool:
        return self.may_acknowledge or self.may_close

    @property
    def may_close(self) -> bool:
        return self.line.life in {Life.RETURNED, Life.RETURNED_OPEN}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        verb, comment = data.get("verb"), data.get("comment", "")
        if verb == FlagVerb.CLOSE and not self.may_close:
            self.add_error(
                "comment",
                _("The value has not returned: acknowledge the flag, and close it once it has."),
            )
        elif verb == FlagVerb.CLOSE and not comment:
            self.add_error("comment", _("What was the cause? Write a few words, or 'unknown'."))
        elif verb == FlagVerb.ACKNOWLEDGE and self.is_pressing and not comment:
            self.add_error("comment", _("This flag is of high priority: say what is being done."))
        return data

    @property
    def is_pressing(self) -> bool:
        return self.line.episode.priority == Priority.HIGH


class InstantForm(forms.Form):
    """A day and a clock time, both UTC."""

    day = DayField(label=_("Day, UTC"))
    clock = ClockField(label=_("Time, UTC"))

    @property
    def instant(self) -> datetime:
        return datetime.combine(self.cleaned_data["day"], self.cleaned_data["clock"], UTC)
