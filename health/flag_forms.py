"""What can be done about a flag in its present life: answered, shelved, taken out of service."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from health.boards.flag_lines import FlagLine
from health.lifecycle import Life
from logbook.models import FlagVerb
from station.models import Priority

LONGEST_COMMENT = 500
TO_THE_END = "shift"
ENDS: Mapping[str, Promise] = {
    "1": gettext_lazy("in 1 hour"),
    "4": gettext_lazy("in 4 hours"),
    "8": gettext_lazy("in 8 hours"),
    TO_THE_END: gettext_lazy("when the shift ends, after 8 hours at the latest"),
}
ANSWERS = [(verb, verb.label) for verb in (FlagVerb.ACKNOWLEDGE, FlagVerb.CLOSE, FlagVerb.RESET)]
LOW_WATER = gettext_lazy(
    "Low water is never shelved: the tube is lost before anybody looks again. HT off first."
)
OF_A_TRIP = gettext_lazy("A flag of a trip is never shelved: write the trip and its end instead.")
NOT_STANDING = gettext_lazy("It does not stand open any more: there is nothing to shelve.")

Columns = dict[str, Any]


class LineForm(forms.Form):
    """Of one flag; ``columns`` are what its log entry says beside the flag itself."""

    def __init__(self, *args: Any, line: FlagLine, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.line, self.now = line, now


def comment_field(label: Promise) -> forms.CharField:
    return forms.CharField(
        label=label, max_length=LONGEST_COMMENT, required=False, widget=forms.TextInput
    )


class FlagForm(LineForm):
    """Acknowledge asks for a comment where the priority is high; closing asks for the cause, a
    reset for what the inspection found."""

    verb = forms.ChoiceField(choices=ANSWERS, widget=forms.HiddenInput)
    comment = comment_field(gettext_lazy("Comment, or the cause when closing"))

    @property
    def may_acknowledge(self) -> bool:
        return self.line.life in {Life.OPEN, Life.RETURNED_OPEN}

    @property
    def may_close(self) -> bool:
        ended = {Life.RETURNED, Life.RETURNED_OPEN, Life.SUPPRESSED}
        return self.line.life in ended and not self.line.is_standing

    @property
    def may_reset(self) -> bool:
        return self.line.life == Life.LATCHED

    @property
    def is_wanted(self) -> bool:
        return self.may_acknowledge or self.may_close or self.may_reset

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        sentence = self.sentence(data.get("verb", ""), data.get("comment", ""))
        if sentence:
            self.add_error("comment", sentence)
        return data

    def sentence(self, verb: str, comment: str) -> str:
        """What is wrong, '' where nothing is."""
        if verb == FlagVerb.CLOSE:
            return self.about_closing(comment)
        if verb == FlagVerb.RESET:
            return self.about_reset(comment)
        if verb == FlagVerb.ACKNOWLEDGE and self.is_pressing and not comment:
            return _("This flag is of high priority: say what is being done.")
        return ""

    def about_closing(self, comment: str) -> str:
        if self.may_reset:
            return _("It is closed after its reset: write first what the inspection found.")
        if not self.may_close:
            return _("The value has not returned: acknowledge the flag, and close it once it has.")
        return "" if comment else _("What was the cause? Write a few words, or 'unknown'.")

    def about_reset(self, comment: str) -> str:
        if not self.may_reset:
            return _("There is nothing to reset: its value has not returned, or it was reset.")
        return "" if comment else _("What did the inspection find? Write a few words.")

    @property
    def is_pressing(self) -> bool:
        return self.line.episode.priority == Priority.HIGH

    @property
    def columns(self) -> Columns:
        return {"verb": self.cleaned_data["verb"], "comment": self.cleaned_data["comment"]}


class ShelveForm(LineForm):
    """For its rule and meter, to an end of its own; what may not be shelved says why."""

    end = forms.ChoiceField(
        label=gettext_lazy("It comes back"),
        choices=ENDS.items(),
        widget=forms.RadioSelect,
        initial="1",
        error_messages={"required": gettext_lazy("Choose when it comes back.")},
    )
    why = comment_field(gettext_lazy("Why it can wait"))

    @property
    def is_wanted(self) -> bool:
        return self.line.life in {Life.OPEN, Life.ACKNOWLEDGED}

    @property
    def refusal(self) -> str:
        """Why it cannot be shelved, '' where it can."""
        if self.line.episode.is_vital:
            return str(LOW_WATER)
        if self.line.trip is not None:
            return str(OF_A_TRIP)
        return "" if self.is_wanted else str(NOT_STANDING)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.refusal:
            self.add_error(None, self.refusal)
        elif not data.get("why"):
            self.add_error("why", _("Say why it can wait: the next shift reads it."))
        return data

    @property
    def columns(self) -> Columns:
        end = self.cleaned_data["end"]
        until = None if end == TO_THE_END else self.now + timedelta(hours=int(end))
        return {"verb": FlagVerb.SHELVE, "comment": self.cleaned_data["why"], "until": until}


class OutForm(LineForm):
    """The whole meter, for work: with the number of its order."""

    order_number = forms.CharField(label=gettext_lazy("Number of the work order"), max_length=40)
    work = comment_field(gettext_lazy("What is done to the meter"))

    @property
    def is_wanted(self) -> bool:
        return self.line.life != Life.OUT_OF_SERVICE

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.is_wanted:
            self.add_error(None, _("The meter is out of service already."))
        elif not data.get("work"):
            self.add_error("work", _("Say what is done, so that it is known when it is back."))
        return data

    @property
    def columns(self) -> Columns:
        data = self.cleaned_data
        facts = {"order_number": data["order_number"], "comment": data["work"]}
        return {"verb": FlagVerb.OUT, **facts}


FORMS: Mapping[str, type[LineForm]] = {
    FlagVerb.SHELVE.value: ShelveForm,
    FlagVerb.OUT.value: OutForm,
}
"""By the verb that is posted; the others are answers to the flag."""
RIGHTS = {FlagVerb.OUT.value: "out_of_service", FlagVerb.BACK.value: "out_of_service"}
"""The right that a verb needs; the others need the log's."""


def right_of(verb: str) -> str:
    return RIGHTS.get(verb, "log")


@dataclass(frozen=True)
class FlagForms:
    """``posted`` is the one that was filled in, None where the page is only read."""

    answer: FlagForm
    shelve: ShelveForm
    out: OutForm
    posted: Any


def forms_of(line: FlagLine, now: datetime, data: QueryDict | None) -> FlagForms:
    kind = FORMS.get(data.get("verb", ""), FlagForm) if data is not None else None
    made = {
        one: one(data if one is kind else None, line=line, now=now)
        for one in (FlagForm, ShelveForm, OutForm)
    }
    return FlagForms(made[FlagForm], made[ShelveForm], made[OutForm], made.get(kind))
