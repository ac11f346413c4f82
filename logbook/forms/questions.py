"""Questions that a page asks before it saves: each is answered, never a reason to refuse."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.forms.fields import ClockField, DayField, future_sentence, is_future
from logbook.state_questions import Question


class QuestionForm(forms.Form):
    """A form whose page shows ``asked``, each with a box ``meant`` that answers it."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.now = timezone.now()
        self.asked: list[Question] = []

    def ask(self, questions: Iterable[Question]) -> None:
        """Hold the form back until each question was answered on the page."""
        meant = self.data.getlist("meant") if hasattr(self.data, "getlist") else []
        self.asked = [question for question in questions if question.name not in meant]
        if self.asked:
            raise ValidationError(_("One more look before it is saved: see the question below."))

    def ask_why(self, questions: Iterable[Question]) -> None:
        """The same, with a note wanted where a question needs a reason."""
        asked = list(questions)
        self.ask(asked)
        if any(one.needs_reason for one in asked) and not self.cleaned_data["note"]:
            self.add_error("note", _("Say why it is so: the log keeps the reason."))


def future_question(instant: datetime, now: datetime, field: str) -> Question:
    name = f"future:{instant.astimezone(UTC):%Y-%m-%dT%H:%M}"
    return Question(name, field, future_sentence(instant, now))


def utc_instant(day: date, clock: time) -> datetime:
    return datetime.combine(day, clock, UTC)


class TimedForm(QuestionForm):
    """Day and time of what is written; ahead of the clock it is asked about."""

    day = DayField(label=gettext_lazy("Day, UTC"))
    clock = ClockField(label=gettext_lazy("Time, UTC"))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("day") and data.get("clock"):
            data["observed_at"] = utc_instant(data["day"], data["clock"])
            if is_future(data["observed_at"], self.now):
                self.ask([future_question(data["observed_at"], self.now, "clock")])
        return data
