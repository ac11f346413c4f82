"""The form that takes a version of the schedule."""

from datetime import UTC, datetime
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from station.models import ScheduleVersion, Station

LARGEST_FILE = 1_000_000
INSTANT_FORMATS = ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H%M"]
NEITHER = gettext_lazy("Choose a file, or write the lines into the field below.")


class ScheduleForm(forms.Form):
    """A file, or its text as it stands after a first look; from when it holds."""

    file = forms.FileField(
        label=gettext_lazy("Schedule file, CSV"), required=False, allow_empty_file=True
    )
    text = forms.CharField(
        label=gettext_lazy("Its lines, which may be put right here"),
        required=False,
        max_length=LARGEST_FILE,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 12, "wrap": "off", "spellcheck": "false"}),
    )
    six_digits = forms.ChoiceField(
        label=gettext_lazy("A date of six digits"),
        required=False,
        choices=[
            ("", gettext_lazy("is refused")),
            ("dmy", gettext_lazy("is day, month, year")),
            ("ymd", gettext_lazy("is year, month, day")),
        ],
    )
    effective_from = forms.DateTimeField(
        label=gettext_lazy("In force from, UTC"),
        input_formats=INSTANT_FORMATS,
        widget=forms.DateTimeInput(format="%Y-%m-%d %H:%M", attrs={"autocomplete": "off"}),
        error_messages={
            "invalid": gettext_lazy("Write day and time UTC, such as 2026-03-29 01:00."),
            "required": gettext_lazy("From when does it hold? Write day and time UTC."),
        },
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)
    good_only = forms.BooleanField(
        label=gettext_lazy("Take the good lines although others are refused"), required=False
    )
    in_past = forms.BooleanField(
        label=gettext_lazy("It was in force then: count past availability by it"), required=False
    )

    def __init__(self, *args: Any, station: Station, **options: Any) -> None:
        super().__init__(*args, **options)
        self.station = station

    def clean_effective_from(self) -> datetime:
        instant = self.cleaned_data["effective_from"].astimezone(UTC)
        taken = ScheduleVersion.objects.filter(station=self.station, effective_from=instant)
        if taken.exists():
            raise forms.ValidationError(
                _("A version that begins at this instant is there already: choose another one.")
            )
        return instant

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        file = data.get("file")
        if file:
            data["text"] = self.decoded(file)
        elif not data.get("text", "").strip() and "text" not in self.errors:
            self.add_error("file", str(NEITHER))
        return data

    def decoded(self, file: Any) -> str:
        if file.size > LARGEST_FILE:
            self.add_error("file", _("A schedule is smaller than 1 MB: is it the right file?"))
            return ""
        try:
            text = file.read().decode("utf-8-sig")
        except UnicodeDecodeError as error:
            sentence = _("It is not UTF-8 text (byte %(byte)s): save it as UTF-8.")
            self.add_error("file", sentence % {"byte": error.start})
            return ""
        if "\0" in text or not text.strip():
            self.add_error("file", _("There is no text in this file."))
            return ""
        return text

    @property
    def asks_past(self) -> bool:
        """Whether a version in the past would change what was counted by another one."""
        instant = self.cleaned_data["effective_from"]
        is_first = not ScheduleVersion.objects.filter(station=self.station).exists()
        return instant < timezone.now() and not is_first and not self.cleaned_data["in_past"]
