"""Tests, measurements and looks round; adjustments; the tower lights' faults and repairs."""

from datetime import datetime, timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.access import entry_for
from logbook.check_board import check_board, rounds_about
from logbook.checks import PLANS, Plan
from logbook.forms.check import AdjustmentForm, CheckForm, RepairForm
from logbook.models import Entry, Kind
from logbook.models.check import Topic
from logbook.saved_round import is_beyond_limits
from logbook.services.checks import AlreadyRepaired, record_check, record_repair
from logbook.views.interruption import now_initial
from logbook.words import entry_words
from station.access import needs, transmitter_for
from station.models import Transmitter

ADJUSTED_WITHIN = timedelta(hours=12)


@needs("read")
def checks(request: HttpRequest) -> HttpResponse:
    board = check_board(request.user.station, timezone.now())
    return render(request, "logbook/checks.html", {"board": board})


@needs("log")
def check_new(request: HttpRequest, code: str, topic: str) -> HttpResponse:
    return check_page(request, topic, transmitter_for(request.user, code))


@needs("log")
def station_check(request: HttpRequest, look: str) -> HttpResponse:
    """What concerns the whole station: the weather, the tower lights."""
    return check_page(request, look, None)


def check_page(request: HttpRequest, topic: str, transmitter: Transmitter | None) -> HttpResponse:
    plan = plan_for(topic, transmitter)
    form = CheckForm(
        request.POST if request.method == "POST" else None,
        plan=plan,
        station=request.user.station,
        transmitter=transmitter,
        initial=now_initial(),
    )
    if form.is_bound and form.is_valid():
        columns = {
            "topic": plan.topic,
            "facts": form.facts(),
            "note": form.cleaned_data["note"],
        }
        entry = record_check(
            request.user.station,
            transmitter,
            columns,
            readings=form.readings(),
            observed_at=form.cleaned_data["observed_at"],
            by=request.user,
            at=timezone.now(),
        )
        return written(request, entry)
    context = {"form": form, "plan": plan, "transmitter": transmitter}
    return render(request, "logbook/check_new.html", context)


def plan_for(topic: str, transmitter: Transmitter | None) -> Plan:
    plan = PLANS.get(topic)
    if plan is None or plan.is_of_station == (transmitter is not None):
        raise Http404
    if plan.topic == Topic.TOWER_REPAIR:
        raise Http404
    return plan


def written(request: HttpRequest, entry: Entry) -> HttpResponse:
    messages.success(request, _("Written as entry %(no)s.") % {"no": entry.no})
    return redirect("checks")


@needs("log")
def adjustment_new(request: HttpRequest, code: str) -> HttpResponse:
    transmitter, now = transmitter_for(request.user, code), timezone.now()
    form = adjustment_form(request, transmitter, now)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        columns = {
            "topic": Topic.ADJUSTMENT,
            "facts": {"action": data["action"]},
            "before": form.entry("as_found"),
            "after": form.entry("as_left"),
            "note": data["note"],
        }
        times = {"observed_at": data["observed_at"], "at": now}
        station = request.user.station
        return written(
            request, record_check(station, transmitter, columns, by=request.user, **times)
        )
    context = {"form": form, "transmitter": transmitter}
    return render(request, "logbook/adjustment_new.html", context)


def adjustment_form(
    request: HttpRequest, transmitter: Transmitter, now: datetime
) -> AdjustmentForm:
    rounds = rounds_about(transmitter, now - ADJUSTED_WITHIN, now)
    return AdjustmentForm(
        request.POST if request.method == "POST" else None,
        rounds=rounds,
        is_beyond=is_beyond_limits,
        initial=now_initial(),
    )


@needs("log")
def light_repaired(request: HttpRequest, fault: int) -> HttpResponse:
    entry = entry_for(request.user, fault)
    if entry.kind != Kind.CHECK or entry.ended_by_id or entry.checkmade.topic != Topic.TOWER_LIGHTS:
        raise Http404
    form = RepairForm(
        request.POST if request.method == "POST" else None,
        of=entry.checkmade,
        initial=now_initial(),
    )
    if form.is_bound and form.is_valid():
        return save_repair(request, form)
    context = {"form": form, "entry": entry, "words": entry_words(entry)}
    return render(request, "logbook/light_repaired.html", context)


def save_repair(request: HttpRequest, form: RepairForm) -> HttpResponse:
    data = form.cleaned_data
    facts = {name: data[name] for name in ("done", "told") if data[name]}
    times = {"observed_at": data["observed_at"], "at": timezone.now()}
    try:
        entry = record_repair(form.of, facts, data["note"], by=request.user, **times)
    except AlreadyRepaired:
        messages.warning(request, _("Its repair was written meanwhile; nothing was saved."))
        return redirect("checks")
    return written(request, entry)
