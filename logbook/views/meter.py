"""The meters of a transmitter with their instruments, and the change of one."""

from datetime import UTC

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.forms.meter import MeterForm
from logbook.queries import meters_with_changes
from logbook.services.meters import record_meter_change
from station.access import needs, own, transmitter_for
from station.models import Meter


@needs("read")
def meters(request: HttpRequest, code: str) -> HttpResponse:
    transmitter = transmitter_for(request.user, code)
    context = {"transmitter": transmitter, "meters": meters_with_changes(transmitter)}
    return render(request, "logbook/meters.html", context)


@needs("log")
def meter_change(request: HttpRequest, code: str, meter: str) -> HttpResponse:
    transmitter, now = transmitter_for(request.user, code), timezone.now()
    found = own(
        request.user,
        Meter.objects.select_related("transmitter__station"),
        transmitter=transmitter,
        code=meter,
    )
    form = MeterForm(
        request.POST if request.method == "POST" else None,
        meter=found,
        initial={"day": now.astimezone(UTC).date(), "clock": now.astimezone(UTC).time()},
    )
    if form.is_bound and form.is_valid():
        written = record_meter_change(form.draft(), by=request.user, at=now)
        messages.success(request, _("Written as entry %(no)s.") % {"no": written.entry.no})
        return redirect("entry", no=written.entry.no)
    return render(request, "logbook/meter_change.html", {"form": form, "meter": found})
