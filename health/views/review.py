"""The review of a week: what is decided about an item of its list, and the week's signature."""

from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from health.boards.limit_ways import limit_ways
from health.boards.week_review import Line, build_review, midnight
from health.review_forms import DecisionForm, SignWeekForm
from health.views.week import monday_of, parsed_day
from logbook.ledger import head
from logbook.models import Decided, SignatureScope
from logbook.services.decisions import record_decision
from logbook.services.signatures import record_signature
from station.access import needs
from station.models import Person, Transmitter

LONGEST_WORDS = 500


@needs("sign")
def decide(request: HttpRequest, monday: str, key: str) -> HttpResponse:
    """One item of the list; a change of a limit leads on to the limits of its meter."""
    since, now = monday_or_404(monday), timezone.now()
    review = build_review(request.user.station, since, now)
    line = next((one for one in review.lines if one.item.key == key), None)
    if line is None:
        raise Http404
    form = DecisionForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        no = save_decision(form, line, since, by=request.user, at=now)
        messages.success(request, _("Decided, by entry %(no)s.") % {"no": no})
        if form.cleaned_data["decision"] == Decided.CHANGE_LIMIT and line.item.meter:
            return redirect("decide", monday, key)
        return redirect(f"{reverse('week', args=(monday,))}#decisions")
    context = {"form": form, "line": line, "monday": since.date(), "ways": ways_of(line)}
    return render(request, "health/week_decide.html", context)


def save_decision(
    form: DecisionForm, line: Line, since: datetime, *, by: Person, at: datetime
) -> int:
    item = line.item
    shown = {"week": since.date(), "key": item.key, "measure": item.measure}
    facts = {**form.facts, **shown, "words": item.words[:LONGEST_WORDS]}
    transmitter = Transmitter.objects.filter(station=by.station, code=item.code).first()
    return record_decision(facts, transmitter=transmitter, by=by, at=at).entry.no


def ways_of(line: Line) -> list:
    """The limits to be changed, once that is decided."""
    meter, decision = line.item.meter, line.decision
    if meter is None or decision is None or decision.decision != Decided.CHANGE_LIMIT:
        return []
    return list(limit_ways(meter, decision.reason))


@needs("sign")
def sign_week(request: HttpRequest, monday: str) -> HttpResponse:
    """The engineer in charge signs the week of the station; asked first where something is open."""
    since, now = monday_or_404(monday), timezone.now()
    station = request.user.station
    review = build_review(station, since, now)
    form = SignWeekForm(request.POST if request.method == "POST" else None, review=review)
    if form.is_bound and head(station) is None:
        messages.warning(request, _("The log has no entry yet: there is nothing to sign."))
        return redirect("week", monday)
    if form.is_bound and form.is_valid():
        entry = record_signature(
            station,
            SignatureScope.WEEK,
            since.date(),
            transmitter=None,
            by=request.user,
            at=now,
            left_open=review.left_open,
        )
        messages.success(request, _("Signed, by entry %(no)s.") % {"no": entry.no})
        return redirect("week", monday)
    return render(request, "health/week_sign.html", {"form": form, "review": review})


def monday_or_404(text: str) -> datetime:
    """The begin of the week that begins on this day."""
    day = parsed_day(text)
    if day is None or day != monday_of(day):
        raise Http404
    return midnight(day)
