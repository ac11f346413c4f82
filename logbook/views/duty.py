"""Who is in charge; handing over, and taking over."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.duty import duties, open_handovers
from logbook.forms.duty import DutyForm, HandoverForm
from logbook.handover_board import as_text, assemble, running_now
from logbook.models import Handover
from logbook.services.duty import (
    AlreadyTaken,
    NotTheSecondPerson,
    record_duty,
    record_handover,
)
from station.access import needs

DUTIES_SHOWN = 20


@needs("read")
def duty(request: HttpRequest) -> HttpResponse:
    station = request.user.station
    taken = list(duties(station)[:DUTIES_SHOWN])
    context = {
        "in_charge": taken[0] if taken else None,
        "before": taken[1:],
        "open": list(open_handovers(station)),
    }
    return render(request, "logbook/duty.html", context)


@needs("log")
def hand_over(request: HttpRequest) -> HttpResponse:
    """What the log says stands beside the field for what it does not say."""
    station, now = request.user.station, timezone.now()
    parts = assemble(station, now)
    running = running_now(station, now)
    form = HandoverForm(request.POST if request.method == "POST" else None, running=running)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        entry = record_handover(
            station,
            as_text(parts),
            data["notes"],
            by=request.user,
            at=now,
            unstaffed_until=data["unstaffed_until"],
        )
        messages.success(
            request,
            _("Written as entry %(no)s; open until it is countersigned.") % {"no": entry.no},
        )
        return redirect("duty")
    return render(request, "logbook/hand_over.html", {"form": form, "parts": parts})


@needs("log")
def take_over(request: HttpRequest) -> HttpResponse:
    """The oldest open hand-over is read and countersigned; without one the duty is just taken."""
    handover = open_handovers(request.user.station).first()
    form = DutyForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        save_duty(request, handover, form)
        return redirect("duty")
    return render(request, "logbook/take_over.html", {"form": form, "handover": handover})


def save_duty(request: HttpRequest, handover: Handover | None, form: DutyForm) -> None:
    facts = {name: form.cleaned_data[name] for name in ("qualification", "note")}
    try:
        entry = record_duty(
            request.user.station, handover, **facts, by=request.user, at=timezone.now()
        )
    except NotTheSecondPerson:
        sentence = _("You wrote this hand-over: the one who takes over countersigns it.")
        messages.error(request, sentence)
    except AlreadyTaken:
        messages.warning(request, _("It was countersigned meanwhile; nothing was saved."))
    else:
        messages.success(request, _("You are in charge, by entry %(no)s.") % {"no": entry.no})
