"""Writing a remark about a transmitter, or about an entry."""

from datetime import UTC

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.access import entry_for
from logbook.forms.remark import RemarkForm
from logbook.models import Entry
from logbook.services.remarks import record_remark
from logbook.slots import parse_slot
from station.access import needs, transmitter_for
from station.models import Transmitter


@needs("log")
def remark(request: HttpRequest, code: str) -> HttpResponse:
    return remark_page(request, transmitter_for(request.user, code), about=None)


@needs("log")
def remark_about(request: HttpRequest, no: int) -> HttpResponse:
    about = entry_for(request.user, no)
    return remark_page(request, about.transmitter, about=about)


def remark_page(
    request: HttpRequest, transmitter: Transmitter | None, *, about: Entry | None
) -> HttpResponse:
    form = RemarkForm(request.POST if request.method == "POST" else None, initial=times(request))
    if form.is_bound and form.is_valid():
        written = record_remark(
            form.cleaned_data["text"],
            station=request.user.station,
            transmitter=transmitter,
            observed_at=form.cleaned_data["observed_at"],
            by=request.user,
            at=timezone.now(),
            about=about,
        )
        messages.success(request, _("Written as entry %(no)s.") % {"no": written.entry.no})
        return redirect("entry", no=written.entry.no)
    context = {"form": form, "transmitter": transmitter, "about": about}
    return render(request, "logbook/remark.html", context)


def times(request: HttpRequest) -> dict[str, object]:
    """Now, or the slot that the remark is about."""
    at = parse_slot(request.GET.get("at", "")) or timezone.now()
    return {"day": at.astimezone(UTC).date(), "clock": at.astimezone(UTC).time()}
