"""The history of one meter, alone or beside another."""

from datetime import UTC, date, timedelta
from typing import NamedTuple

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from health.boards.history import build_history
from health.forms import HistoryForm
from health.history_charts import history_payload, history_rows
from logbook.forms.days import span_of_days
from logbook.models import Reading
from station.access import needs, own, transmitter_for
from station.models import Meter

USUAL_DAYS = 28


class Ready(NamedTuple):
    """A span that one press asks for."""

    label: str
    since: date
    until: date


@needs("read")
def history(request: HttpRequest, code: str, meter: str) -> HttpResponse:
    """The last weeks, or the span that is asked for; what is no span is said at its field."""
    shown = meter_for(request, code, meter)
    today = timezone.now().astimezone(UTC).date()
    usual = {"since": today - timedelta(days=USUAL_DAYS - 1), "until": today}
    asked = request.GET if "since" in request.GET or "until" in request.GET else None
    form = HistoryForm(asked, meter=shown, initial=usual)
    is_bad = form.is_bound and not form.is_valid()
    if form.is_bound and not is_bad:
        board = build_history(shown, form.span, form.wave_khz, form.cleaned_data["against"])
    else:
        board = build_history(shown, span_of_days(**usual))
    context = {
        "board": board,
        "meter": shown,
        "form": form,
        "ready": ready_spans(shown, today),
        "payload": history_payload(board),
        "rows": list(history_rows(board.curve)),
    }
    return render(request, "health/history.html", context, status=400 if is_bad else 200)


def meter_for(request: HttpRequest, code: str, meter: str) -> Meter:
    transmitter = transmitter_for(request.user, code)
    meters = Meter.objects.select_related("transmitter__station", "stage", "socket")
    return own(request.user, meters, transmitter=transmitter, code=meter)


def ready_spans(meter: Meter, today: date) -> list[Ready]:
    spans = [
        Ready(label, today - timedelta(days=days - 1), today)
        for label, days in ((_("A week"), 7), (_("Six weeks"), 42), (_("A year"), 365))
    ]
    first = Reading.objects.current().filter(meter=meter).order_by("minute").first()
    if first is not None:
        spans.append(Ready(_("All"), first.observed_at.date(), today))
    return spans
