"""The interruptions, and the pages on which they begin and end."""

from datetime import UTC, datetime, timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.access import entry_for
from logbook.forms.interruption import InterruptionForm, RestorationForm
from logbook.interruption_report import interruption_report
from logbook.interruptions import losses
from logbook.models import Interruption, Kind
from logbook.months import parsed_month
from logbook.prints import print_mark
from logbook.services.interruptions import (
    AlreadyRestored,
    InterruptionDraft,
    record_interruption,
    record_restoration,
)
from logbook.words import entry_words
from station.access import needs

SHOWN = timedelta(days=31)


@needs("read")
def interruptions(request: HttpRequest) -> HttpResponse:
    """Those that stand open first, then those of the last month, the newest first."""
    now = timezone.now()
    found = losses(request.user.station, now - SHOWN, now + timedelta(minutes=5))
    lines = [(loss, entry_words(loss.entry)) for loss in reversed(found)]
    context = {
        "open": [line for line in lines if line[0].end is None],
        "over": [line for line in lines if line[0].end is not None],
        "month": f"{now:%Y-%m}",
    }
    return render(request, "logbook/interruptions.html", context)


@needs("read")
def interruption_report_page(request: HttpRequest, month: str) -> HttpResponse:
    span = parsed_month(month)
    if span is None:
        raise Http404
    board = interruption_report(request.user.station, *span, timezone.now())
    context = {"board": board, "mark": print_mark(request)}
    return render(request, "logbook/interruption_report.html", context)


@needs("log")
def interruption_new(request: HttpRequest) -> HttpResponse:
    form = InterruptionForm(
        request.POST if request.method == "POST" else None,
        station=request.user.station,
        initial={**now_initial(), "transmitters": request.GET.getlist("transmitter")},
    )
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        draft = InterruptionDraft(list(data["transmitters"]), data["begin"], form.facts)
        written = record_interruption(draft, by=request.user, at=timezone.now())
        messages.success(request, _("Written as entry %(no)s.") % {"no": written[0].no})
        return redirect("interruptions")
    return render(request, "logbook/interruption_new.html", {"form": form})


@needs("log")
def restored(request: HttpRequest, loss: int) -> HttpResponse:
    entry = entry_for(request.user, loss)
    if entry.kind != Kind.INTERRUPTION or entry.ended_by_id:
        raise Http404
    form = RestorationForm(
        request.POST if request.method == "POST" else None,
        begin=entry.observed_at,
        initial=now_initial(),
    )
    if form.is_bound and form.is_valid():
        save_end(request, entry.interruption, form)
        return redirect("interruptions")
    context = {"form": form, "entry": entry, "words": entry_words(entry)}
    return render(request, "logbook/restored.html", context)


def save_end(request: HttpRequest, of: Interruption, form: RestorationForm) -> None:
    try:
        entry = record_restoration(
            of, form.cleaned_data["observed_at"], form.facts, by=request.user, at=timezone.now()
        )
    except AlreadyRestored:
        messages.warning(request, _("Its end was written meanwhile; nothing was saved."))
    else:
        messages.success(request, _("Written as entry %(no)s.") % {"no": entry.no})


def now_initial() -> dict[str, object]:
    now = datetime.now(UTC)
    return {"day": now.date(), "clock": f"{now:%H:%M}"}
