"""The flags, and one flag with its evidence and what is done about it."""

from datetime import datetime

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from health.boards.flag_evidence import build_evidence
from health.boards.flag_lines import FlagLine
from health.boards.flags import build_flags
from health.flag_forms import forms_of, right_of
from health.models import Episode
from logbook.models import FlagVerb
from logbook.services.flags import FlagDraft, record_flag_action
from logbook.shelves import Aside, asides_now
from station.access import may, needs, own, transmitter_for
from station.models import Person

ENDED_BY = {FlagVerb.SHELVE.value: FlagVerb.UNSHELVE, FlagVerb.OUT.value: FlagVerb.BACK}


@needs("read")
def flags(request: HttpRequest) -> HttpResponse:
    """The list; what is posted ends a shelf, or puts a meter back into service."""
    now = timezone.now()
    if request.method == "POST":
        return end_aside(request, now)
    board = build_flags(request.user.station, now, request.GET.get("show", ""))
    return render(request, "health/flags.html", {"board": board})


@needs("read")
def flag(request: HttpRequest, code: str, meter: str, rule: str, first_no: int) -> HttpResponse:
    episode = episode_for(request.user, code, meter__code=meter, rule=rule, first_no=first_no)
    now = timezone.now()
    board = build_evidence(episode, now)
    data = request.POST if request.method == "POST" else None
    if data is not None and not may(request.user, right_of(data.get("verb", ""))):
        raise PermissionDenied
    forms = forms_of(board.line, now, data)
    if forms.posted is not None and forms.posted.is_valid():
        answer(board.line, forms.posted.columns, by=request.user, at=now)
        messages.success(request, _("Written in the log."))
        return redirect(request.path)
    return render(request, "health/flag.html", {"board": board, "forms": forms})


def episode_for(person: Person, code: str, **key: object) -> Episode:
    """The flag with this natural key."""
    episodes = Episode.objects.select_related("meter__transmitter__station", "transmitter__station")
    return own(person, episodes, transmitter=transmitter_for(person, code), **key)


def answer(line: FlagLine, columns: dict[str, object], *, by: Person, at: datetime) -> None:
    episode = line.episode
    draft = FlagDraft(
        rule=episode.rule,
        meter=episode.meter,
        first_no=episode.first_no,
        words=line.words,
        **columns,
    )
    record_flag_action(draft, by=by, at=at)


def end_aside(request: HttpRequest, now: datetime) -> HttpResponse:
    """What is set aside by the entry of this number stands open again."""
    aside = aside_for(request.user, request.POST.get("aside", ""), now)
    verb = ENDED_BY[aside.action.verb]
    if not may(request.user, right_of(verb)):
        raise PermissionDenied
    action = aside.action
    draft = FlagDraft(action.rule, action.meter, action.first_no, verb, action.words)
    record_flag_action(draft, by=request.user, at=now)
    messages.success(request, _("Written in the log."))
    return redirect("flags")


def aside_for(person: Person, number: str, now: datetime) -> Aside:
    found = asides_now(person.station, now)
    wanted = next((one for one in found if str(one.action.entry.no) == number), None)
    if wanted is None:
        if not any(may(person, right) for right in ("log", "out_of_service")):
            raise PermissionDenied
        raise Http404
    return wanted
