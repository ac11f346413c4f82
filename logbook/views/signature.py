"""Signing a day's own entries, and the week."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from logbook.ledger import head
from logbook.models import SignatureScope
from logbook.services.signatures import record_signature
from logbook.views.day_sheet import read_day
from station.access import needs, transmitter_for

MONDAY = 1


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


@needs("sign")
def sign_week(request: HttpRequest, monday: str) -> HttpResponse:
    """The engineer in charge signs the week of the station that begins on a Monday."""
    wanted = read_day(monday)
    if wanted is None or wanted.isoweekday() != MONDAY:
        raise Http404
    station = request.user.station
    if request.method == "POST":
        if head(station) is None:
            messages.warning(request, _("The log has no entry yet: there is nothing to sign."))
        else:
            entry = record_signature(
                station,
                SignatureScope.WEEK,
                wanted,
                transmitter=None,
                by=request.user,
                at=timezone.now(),
            )
            messages.success(request, _("Signed, by entry %(no)s.") % {"no": entry.no})
    return HttpResponseRedirect(safe_back(request))


def safe_back(request: HttpRequest) -> str:
    """The page that sent it, if it is a path of ours, else the home page."""
    wished = request.POST.get("back", "")
    allowed = wished.startswith("/") and url_has_allowed_host_and_scheme(
        wished, allowed_hosts={request.get_host()}
    )
    return wished if allowed else reverse("home")
