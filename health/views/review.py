"""The review of a week: what is decided about an item of its list, and the week's signature."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date, datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from health.boards.limit_ways import LimitWay, limit_ways
from health.boards.week_review import Line, Review, build_review, midnight
from health.review_forms import DecisionForm, SignWeekForm
from health.views.week import monday_of, parsed_day
from logbook.ledger import head
from logbook.models import Decided, SignatureScope
from logbook.services.decisions import record_decisions
from logbook.services.signatures import record_signature
from station.access import needs
from station.models import Person, Transmitter

LONGEST_WORDS = 500


@needs("sign")
def decide(request: HttpRequest, monday: str) -> HttpResponse:
    """One item of the list, or some together: each ``key`` of the query is decided alike.

    A change of a limit leads on to the limits of the meters concerned. Asked for nothing, the list
    itself is shown.
    """
    since, now, keys = monday_or_404(monday), timezone.now(), request.GET.getlist("key")
    if not keys:
        return redirect("week", monday)
    lines = lines_asked(build_review(request.user.station, since, now), keys)
    form = DecisionForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        save_decisions(form, lines, since.date(), by=request.user, at=now)
        messages.success(request, _("Written in the log."))
        is_limit = form.cleaned_data["decision"] == Decided.CHANGE_LIMIT
        if is_limit and any(line.item.meter for line in lines):
            return redirect(request.get_full_path())
        return redirect(f"{reverse('week', args=(monday,))}#decisions")
    context = {"form": form, "lines": lines, "about": about_words(lines)}
    context |= {"monday": since.date(), "ways": list(ways_of(lines))}
    return render(request, "health/week_decide.html", context)


def about_words(lines: Sequence[Line]) -> str:
    """'T1: 2 rounds missed on 2026-03-02', or how many they are."""
    if len(lines) > 1:
        return ngettext("%(n)s item", "%(n)s items", len(lines)) % {"n": len(lines)}
    item = lines[0].item
    return ": ".join(filter(None, [item.code, item.words]))


def lines_asked(review: Review, keys: Collection[str]) -> list[Line]:
    """The lines with these keys, or 404."""
    lines = [line for line in review.lines if line.item.key in keys]
    if len(lines) < len(set(keys)):
        raise Http404
    return lines


def save_decisions(
    form: DecisionForm, lines: Iterable[Line], monday: date, *, by: Person, at: datetime
) -> None:
    of_code = {one.code: one for one in Transmitter.objects.filter(station=by.station)}
    shown = [
        {
            "week": monday,
            "key": line.item.key,
            "words": line.item.words[:LONGEST_WORDS],
            "measure": line.item.measure,
        }
        for line in lines
    ]
    about = [of_code.get(line.item.code) for line in lines]
    facts = [{**form.facts, **one} for one in shown]
    record_decisions(zip(about, facts, strict=True), by=by, at=at)


def ways_of(lines: Iterable[Line]) -> Iterator[LimitWay]:
    """The limits to be changed, of each meter where that is decided."""
    reasons = {
        line.item.meter: line.decision.reason
        for line in lines
        if line.item.meter and line.decision and line.decision.decision == Decided.CHANGE_LIMIT
    }
    for meter, reason in reasons.items():
        yield from limit_ways(meter, reason)


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
