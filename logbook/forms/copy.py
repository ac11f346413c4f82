"""Which days an inspector's copy holds."""

from typing import Any

from django.utils.translation import gettext as _

from logbook.forms.days import DaysForm
from logbook.inspector_copy import MOST_DAYS


class CopyForm(DaysForm):
    """Log days of the station, the last one whole."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["since"].label = _("From the log day")
        self.fields["until"].label = _("To the end of the log day")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        since, until = data.get("since"), data.get("until")
        if since and until and (until - since).days >= MOST_DAYS:
            sentence = _("That is more than %(most)s days: copy it in parts, one after the other.")
            self.add_error("until", sentence % {"most": MOST_DAYS})
        return data
