"""The forms of the week's review: a decision, and the signature that leaves something open."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from health.boards.week_review import Review
from logbook.forms.fields import DayField
from logbook.forms.questions import QuestionForm
from logbook.models import Decided
from logbook.state_questions import Question

WHY = {
    Decided.PLAN_WORK: gettext_lazy("Write what is to be done, and by when."),
    Decided.CHANGE_LIMIT: gettext_lazy("Write why the limit is changed: it is its reason, too."),
}


class DecisionForm(QuestionForm):
    """Work and a change of a limit want words; a watch does not."""

    decision = forms.ChoiceField(
        label=gettext_lazy("Decision"),
        choices=Decided.choices,
        widget=forms.RadioSelect,
        error_messages={
            "required": gettext_lazy("Choose what is decided."),
            "invalid_choice": gettext_lazy("Choose one of the four."),
        },
        help_text=gettext_lazy(
            "'Watch' is also for what is over and asks for nothing more. Re-read, work and a limit "
            "stay on the list until the thing itself is gone."
        ),
    )
    reason = forms.CharField(
        label=gettext_lazy("Reason; of work: what, by whom, by when"),
        max_length=200,
        required=False,
    )
    look_again = DayField(
        label=gettext_lazy("Look at it again on the day, UTC"),
        required=False,
        help_text=gettext_lazy("Without a day it comes back only if it gets worse."),
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        why, day = WHY.get(data.get("decision", "")), data.get("look_again")
        if why and not data.get("reason") and "reason" not in self.errors:
            self.add_error("reason", why)
        if day and day <= self.now.date():
            self.add_error("look_again", _("That day has come: write a later one."))
        return data

    @property
    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("decision", "reason", "look_again")}


class SignWeekForm(QuestionForm):
    """Asks once, and never refuses, where something is open."""

    def __init__(self, *args: Any, review: Review, **options: Any) -> None:
        super().__init__(*args, **options)
        self.review = review

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        count = len(self.review.to_decide)
        if count:
            words = ngettext(
                "%(n)s item is not decided: sign the week with it open?",
                "%(n)s items are not decided: sign the week with them open?",
                count,
            )
            self.ask([Question(f"left-open:{count}", "", words % {"n": count})])
        return data
