"""Moving tubes, one tube's life card, and what the register says of it."""

from datetime import UTC, datetime

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.forms.tube import TubeForm
from logbook.forms.tube_facts import TubeFactsForm
from logbook.models import Entry
from logbook.services.tubes import record_tube_moves
from logbook.tube_card import build_tube_card
from logbook.tube_log import TubeConflict
from station.access import needs, own
from station.models import Station, Tube


@needs("move_tubes")
def tube_move(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    form = TubeForm(
        request.POST if request.method == "POST" else None,
        station=request.user.station,
        initial=first_values(request, now),
    )
    if form.is_bound and form.is_valid() and (entry := saved(form, request)):
        messages.success(request, _("Written as entry %(no)s.") % {"no": entry.no})
        return redirect("tube", serial=form.tube.serial)
    return render(request, "logbook/tube_move.html", {"form": form})


def first_values(request: HttpRequest, now: datetime) -> dict[str, object]:
    at = now.astimezone(UTC)
    return {"day": at.date(), "clock": at.time(), "tube": request.GET.get("tube", "")}


def saved(form: TubeForm, request: HttpRequest) -> Entry | None:
    """The first entry of the action; None where it contradicts what is in the log."""
    try:
        rows = record_tube_moves(
            request.user.station,
            form.drafts(),
            observed_at=form.cleaned_data["observed_at"],
            by=request.user,
            at=timezone.now(),
            client_key=form.cleaned_data["client_key"],
        )
    except TubeConflict as conflict:
        form.add_error(None, conflict.sentence)
        return None
    return rows[0].entry


@needs("read")
def tube(request: HttpRequest, serial: str) -> HttpResponse:
    found = own(request.user, tubes(request.user.station), serial=serial)
    board = build_tube_card(found, timezone.now())
    return render(request, "logbook/tube.html", {"board": board, "tube": found})


@needs("tubes")
def tube_new(request: HttpRequest) -> HttpResponse:
    return facts_page(request, Tube(station=request.user.station))


@needs("tubes")
def tube_facts(request: HttpRequest, serial: str) -> HttpResponse:
    return facts_page(request, own(request.user, tubes(request.user.station), serial=serial))


def facts_page(request: HttpRequest, tube: Tube) -> HttpResponse:
    form = TubeFactsForm(request.POST if request.method == "POST" else None, instance=tube)
    if form.is_bound and form.is_valid():
        saved = form.save()
        messages.success(request, _("Tube %(tube)s is in the register.") % {"tube": saved})
        return redirect("tube", serial=saved.serial)
    return render(request, "logbook/tube_facts.html", {"form": form})


def tubes(station: Station) -> QuerySet[Tube]:
    return Tube.objects.filter(station=station).select_related("station", "tube_type")
