"""The board of permits and earths, and the pages on which one goes out and comes back."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.access import entry_for
from logbook.forms.permit import PermitForm, PermitReturnForm
from logbook.models import Kind
from logbook.permits import open_permits
from logbook.services.permits import AlreadyReturned, record_permit, record_return
from logbook.transmitter_list import transmitter_lines
from logbook.views.interruption import now_initial
from logbook.words import entry_words
from station.access import needs


@needs("read")
def permits(request: HttpRequest) -> HttpResponse:
    """Every transmitter with its state and what is out on it."""
    station = request.user.station
    out = list(open_permits(station))
    lines = [
        (line, [permit for permit in out if permit.entry.transmitter == line.transmitter])
        for line in transmitter_lines(station, timezone.now())
    ]
    on_antennas = [permit for permit in out if permit.antenna_id]
    return render(request, "logbook/permits.html", {"lines": lines, "on_antennas": on_antennas})


@needs("log")
def permit_new(request: HttpRequest) -> HttpResponse:
    form = PermitForm(
        request.POST if request.method == "POST" else None,
        station=request.user.station,
        initial={**now_initial(), "transmitter": request.GET.get("transmitter", "")},
    )
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        times = {"observed_at": data["observed_at"], "at": timezone.now()}
        entry = record_permit(data["transmitter"], form.facts, by=request.user, **times)
        messages.success(request, _("Written as entry %(no)s.") % {"no": entry.no})
        return redirect("permits")
    return render(request, "logbook/permit_new.html", {"form": form})


@needs("log")
def permit_return(request: HttpRequest, permit: int) -> HttpResponse:
    entry = entry_for(request.user, permit)
    if entry.kind != Kind.PERMIT or entry.ended_by_id:
        raise Http404
    form = PermitReturnForm(
        request.POST if request.method == "POST" else None,
        permit=entry.permit,
        initial=now_initial(),
    )
    if form.is_bound and form.is_valid():
        save_return(request, form)
        return redirect("permits")
    context = {"form": form, "entry": entry, "words": entry_words(entry)}
    return render(request, "logbook/permit_return.html", context)


def save_return(request: HttpRequest, form: PermitReturnForm) -> None:
    times = {"observed_at": form.cleaned_data["observed_at"], "at": timezone.now()}
    try:
        entry = record_return(form.permit, form.facts, by=request.user, **times)
    except AlreadyReturned:
        messages.warning(request, _("Its return was written meanwhile; nothing was saved."))
    else:
        messages.success(request, _("Written as entry %(no)s.") % {"no": entry.no})
