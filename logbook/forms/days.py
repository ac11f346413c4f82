"""A span of whole UTC days, as a page asks for it."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.forms.fields import ClockField, DayField

Span = tuple[datetime, datetime]


def span_of_days(since: date, until: date) -> Span:
    """The instants since <= t < until, the last day counted to its end."""
    first, last = (datetime.combine(day, time(), UTC) for day in (since, until))
    return first, last + timedelta(days=1)


class DaysForm(forms.Form):
    """Two days; the second one counts to its end."""

    since = DayField(label=gettext_lazy("From the day, UTC"))
    until = DayField(label=gettext_lazy("To the end of the day, UTC"))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        since, until = data.get("since"), data.get("until")
        if since and until and until < since:
            self.add_error("until", _("This day is before the first one: exchange the two."))
        return data

    @property
    def span(self) -> Span:
        return span_of_days(self.cleaned_data["since"], self.cleaned_data["until"])


class InstantForm(forms.Form):
    """A day and a clock time, both UTC."""

    day = DayField(label=gettext_lazy("Day, UTC"))
    clock = ClockField(label=gettext_lazy("Time, UTC"))

    @property
    def instant(self) -> datetime:
        return datetime.combine(self.cleaned_data["day"], self.cleaned_data["clock"], UTC)
