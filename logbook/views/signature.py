"""Signing a day's own entries."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.models import SignatureScope
from logbook.services.signatures import record_signature
from logbook.views.day_sheet import read_day
from station.access import needs, transmitter_for


@needs("log")
def sign_day(request: HttpRequest, code: str, day: str) -> HttpResponse:
    """Their own entries of one day; asked for without a press, the sheet itself is shown."""
    transmitter, wanted = transmitter_for(request.user, code), read_day(day)
    if wanted is None:
        raise Http404
    if request.method == "POST":
        entry = record_signature(
            transmitter.station,
            SignatureScope.OWN,
            wanted,
            transmitter=transmitter,
            by=request.user,
            at=timezone.now(),
        )
        messages.success(request, _("Signed, by entry %(no)s.") % {"no": entry.no})
    return redirect("day_sheet", code=transmitter.code, day=wanted.isoformat())
