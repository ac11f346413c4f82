"""Fields that more than one page of the log uses."""

import re
from datetime import UTC, date, datetime, time
from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.slots import FIRST_YEAR, LAST_YEAR, is_sensible
from logbook.times import MINUTE

DAY_FORMAT = "%Y-%m-%d"
CLOCK_FORMAT = "%H:%M"
FOUR_DIGITS = re.compile(r"\d{4}", re.ASCII)
AHEAD_ALLOWED = 2 * MINUTE


class DayField(forms.DateField):
    """A day typed as YYYY-MM-DD: the pickers of browsers follow the console's locale."""

    def __init__(self, **options: Any) -> None:
        attributes = {"size": 10, "maxlength": 10, "autocomplete": "off", "inputmode": "numeric"}
        wrong = gettext_lazy("Write the day as year-month-day, such as 2026-03-01.")
        super().__init__(
            input_formats=[DAY_FORMAT],
            widget=forms.DateInput(format=DAY_FORMAT, attrs=attributes),
            error_messages={"invalid": wrong, "required": wrong},
            **options,
        )

    def clean(self, value: Any) -> date | None:
        day = super().clean(value)
        if day is not None and not is_sensible(day):
            sentence = _("The year %(year)s cannot be right: write one from %(first)s to %(last)s.")
            years = {"year": day.year, "first": FIRST_YEAR, "last": LAST_YEAR}
            raise ValidationError(sentence % years)
        return day


class ClockField(forms.TimeField):
    """A UTC clock time, typed as HH:MM."""

    def __init__(self, **options: Any) -> None:
        attributes = {"size": 5, "maxlength": 8, "autocomplete": "off", "inputmode": "numeric"}
        super().__init__(
            input_formats=[CLOCK_FORMAT, "%H:%M:%S", "%H.%M", "%H,%M"],
            widget=forms.TimeInput(format=CLOCK_FORMAT, attrs=attributes),
            error_messages={
                "invalid": gettext_lazy("Write the time as hours and minutes UTC, such as 14:07."),
                "required": gettext_lazy("When was it read? Write hours and minutes UTC."),
            },
            **options,
        )

    def to_python(self, value: Any) -> time | None:
        """Four digits say the time as well: a numeric pad has no colon."""
        if isinstance(value, str) and FOUR_DIGITS.fullmatch(value.strip()):
            value = f"{value.strip()[:2]}:{value.strip()[2:]}"
        return super().to_python(value)


SIGNED = re.compile(r"([-+\N{MINUS SIGN}\N{EN DASH}]?\d{1,9}(?:[.,]\d{1,9})?)\s*(\S*)", re.ASCII)


class NumberField(forms.CharField):
    """A number as typed, with its sign, a comma or a point; its unit is allowed and no other."""

    def __init__(self, unit: str = "", **options: Any) -> None:
        self.unit = unit
        attributes = {"size": 10, "inputmode": "text", "autocomplete": "off"}
        if unit:
            options["label"] = f"{options['label']}, {unit}"
        super().__init__(max_length=40, widget=forms.TextInput(attrs=attributes), **options)

    def clean(self, value: Any) -> float | None:
        typed = super().clean(value)
        if not typed:
            return None
        match = SIGNED.fullmatch(typed)
        if not match or match[2].casefold() not in {"", self.unit.casefold()}:
            sentence = _("'%(typed)s' is not a number: write digits, such as -2.5.")
            raise ValidationError(sentence % {"typed": typed})
        return float(re.sub("[\N{MINUS SIGN}\N{EN DASH}]", "-", match[1]).replace(",", "."))


class KeyField(forms.CharField):
    """The page's own key, by which the same page sent twice is saved once."""

    def __init__(self) -> None:
        super().__init__(
            max_length=36, required=False, widget=forms.HiddenInput(), initial=lambda: uuid4().hex
        )


class MeantField(forms.CharField):
    """Which questions the person has answered with 'yes, it is so': their names, by blanks."""

    def __init__(self) -> None:
        super().__init__(max_length=400, required=False)

    def clean(self, value: Any) -> frozenset[str]:
        return frozenset(super().clean(value).split())


def is_future(instant: datetime, now: datetime) -> bool:
    """Ahead of the clock by more than the clocks of two people differ."""
    return instant > now + AHEAD_ALLOWED


def future_sentence(instant: datetime, now: datetime) -> str:
    return _(
        "%(time)s UTC has not come yet: the clock says %(now)s UTC. Write the time at which it "
        "was, or say below that the clock is wrong."
    ) % {"time": f"{instant:%Y-%m-%d %H:%M}", "now": f"{now.astimezone(UTC):%Y-%m-%d %H:%M}"}
