"""The flags, and one flag with its evidence and what is done about it."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from health.boards.flag_evidence import build_evidence
from health.boards.flags import build_flags
from health.forms import FlagForm
from health.models import Episode
from logbook.services.flags import FlagDraft, record_flag_action
from station.access import may, needs, own, transmitter_for
from station.models import Person


@needs("read")
def flags(request: HttpRequest) -> HttpResponse:
    board = build_flags(request.user.station, timezone.now())
    return render(request, "health/flags.html", {"board": board})


@needs("read")
def flag(request: HttpRequest, code: str, meter: str, rule: str, first_no: int) -> HttpResponse:
    episode = episode_for(request.user, code, meter__code=meter, rule=rule, first_no=first_no)
    board = build_evidence(episode, timezone.now())
    form = FlagForm(posted_answer(request), line=board.line)
    if form.is_bound and form.is_valid():
        answer(form, by=request.user)
        messages.success(request, _("Written in the log."))
        return redirect(request.path)
    return render(request, "health/flag.html", {"board": board, "form": form})


def episode_for(person: Person, code: str, **key: object) -> Episode:
    """The flag with this natural key."""
    episodes = Episode.objects.select_related("meter__transmitter__station", "transmitter__station")
    return own(person, episodes, transmitter=transmitter_for(person, code), **key)


def posted_answer(request: HttpRequest) -> QueryDict | None:
    """What was posted, by somebody who may write in the log."""
    if request.method != "POST":
        return None
    if not may(request.user, "log"):
        raise PermissionDenied
    return request.POST


def answer(form: FlagForm, *, by: Person) -> None:
    episode = form.line.episode
    draft = FlagDraft(
        rule=episode.rule,
        meter=episode.meter,
        first_no=episode.first_no,
        verb=form.cleaned_data["verb"],
        words=form.line.words,
        comment=form.cleaned_data["comment"],
    )
    record_flag_action(draft, by=by, at=timezone.now())
