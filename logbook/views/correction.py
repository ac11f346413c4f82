"""The pages of corrections. What was corrected by somebody else meanwhile shows what stands now."""

from collections.abc import Callable
from datetime import UTC
from functools import wraps

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.access import correctable, entry_for, may_correct
from logbook.choice import build_choice, decide
from logbook.entry_page import build_entry_page
from logbook.forms.correction import AnewForm, ChoiceForm, ValuesForm, VoidForm
from logbook.forms.state_correction import StateAnewForm
from logbook.forms.tube import TubeTimeForm
from logbook.models import Entry, Kind
from logbook.queries import corrections_of
from logbook.services.corrections import (
    AlreadyEnded,
    correct_values,
    void_entry,
    write_round_anew,
    write_state_anew,
)
from logbook.services.tubes import write_moves_anew
from logbook.tube_log import TubeConflict
from station.access import needs

EntryView = Callable[[HttpRequest, Entry], HttpResponse]


def of_standing(view: EntryView) -> Callable[[HttpRequest, int], HttpResponse]:
    """Give a view an entry that this person may correct and that still stands."""

    @needs("correct")
    @wraps(view)
    def checked(request: HttpRequest, no: int) -> HttpResponse:
        entry = correctable(request.user, no)
        if entry.kind == Kind.CORRECTION:
            return redirect("correct", no=entry.correction.of.no)
        if entry.ended_by_id:
            return what_stands(request, entry)
        try:
            return view(request, entry)
        except AlreadyEnded:
            return what_stands(request, entry_for(request.user, no))

    return checked


def what_stands(request: HttpRequest, entry: Entry) -> HttpResponse:
    """Nothing was saved: somebody else was first."""
    board = build_entry_page(entry)
    return render(request, "logbook/correction_ended.html", {"board": board}, status=409)


def posted(request: HttpRequest) -> QueryDict | None:
    return request.POST if request.method == "POST" else None


@of_standing
def correct(request: HttpRequest, entry: Entry) -> HttpResponse:
    """The page that corrects what an entry of this kind says."""
    if entry.kind not in PAGES:
        return redirect("void_entry", no=entry.no)
    if entry.kind == Kind.ROUND and entry.round.duplicate_of_id:
        return redirect("choose_round", no=entry.no)
    return PAGES[entry.kind](request, entry)


def correct_round(request: HttpRequest, entry: Entry) -> HttpResponse:
    form = ValuesForm(posted(request), of=entry.round, corrections=corrections_of([entry]))
    if form.is_bound and form.is_valid():
        correction = correct_values(
            entry.round,
            form.cleaned_data["cells"],
            reason=form.cleaned_data["reason"],
            by=request.user,
            at=timezone.now(),
        )
        return corrected(request, entry.no, correction.entry.no)
    return render(request, "logbook/correction_values.html", {"entry": entry, "form": form})


def correct_state(request: HttpRequest, entry: Entry) -> HttpResponse:
    now = timezone.now()
    form = StateAnewForm(posted(request), of=entry.statechange, now=now)
    if form.is_bound and form.is_valid():
        reason = form.cleaned_data["why"]
        anew = write_state_anew(
            entry.statechange, form.draft(), reason=reason, by=request.user, at=now
        )
        return written_anew(request, anew.entry)
    return render(request, "logbook/correction_state.html", {"entry": entry, "form": form})


def correct_move(request: HttpRequest, entry: Entry) -> HttpResponse:
    at = entry.observed_at.astimezone(UTC)
    form = TubeTimeForm(posted(request), initial={"day": at.date(), "clock": at.time()})
    if form.is_bound and form.is_valid():
        try:
            anew, *_with_it = write_moves_anew(
                entry.tubemove,
                observed_at=form.cleaned_data["observed_at"],
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=timezone.now(),
            )
        except TubeConflict as conflict:
            form.add_error(None, conflict.sentence)
        else:
            return written_anew(request, anew.entry)
    return render(request, "logbook/correction_move.html", {"entry": entry, "form": form})


@of_standing
def write_anew(request: HttpRequest, entry: Entry) -> HttpResponse:
    """A round with a wrong transmitter, slot, time or programme."""
    if entry.kind != Kind.ROUND:
        return redirect("correct", no=entry.no)
    form = AnewForm(posted(request), of=entry.round)
    if form.is_bound and form.is_valid():
        anew = write_round_anew(
            entry.round,
            form.draft(),
            reason=form.cleaned_data["reason"],
            by=request.user,
            at=timezone.now(),
        )
        return written_anew(request, anew.entry, is_duplicate=anew.duplicate_of_id is not None)
    return render(request, "logbook/correction_anew.html", {"entry": entry, "form": form})


@of_standing
def void(request: HttpRequest, entry: Entry) -> HttpResponse:
    """An entry that should not have been written."""
    form = VoidForm(posted(request))
    if form.is_bound and form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            correction = void_entry(entry, reason=reason, by=request.user, at=timezone.now())
        except TubeConflict as conflict:
            form.add_error(None, conflict.sentence)
        else:
            return corrected(request, entry.no, correction.entry.no)
    board = build_entry_page(entry)
    return render(request, "logbook/correction_void.html", {"board": board, "form": form})


@needs("read")
def choose_round(request: HttpRequest, no: int) -> HttpResponse:
    """Two rounds of one slot side by side; who may correct the one that counts may choose."""
    board = build_choice(entry_for(request.user, no))
    may_choose = may_correct(request.user, board.counting.entry) and board.is_open
    form = ChoiceForm(posted(request) if may_choose else None, rounds=board.rounds)
    if form.is_bound and form.is_valid():
        try:
            decide(board, form.round, form.cleaned_data["reason"], request.user, timezone.now())
        except AlreadyEnded:
            return what_stands(request, entry_for(request.user, no))
        messages.success(request, _("Chosen. Nothing was lost: every set stays readable."))
        return redirect("entry", no=board.counting.entry.no)
    context = {"board": board, "form": form, "may_choose": may_choose}
    return render(request, "logbook/correction_choose.html", context)


def corrected(request: HttpRequest, no: int, correction_no: int) -> HttpResponse:
    words = _("Corrected by entry %(no)s. The original stays readable, struck.")
    messages.success(request, words % {"no": correction_no})
    return redirect("entry", no=no)


def written_anew(request: HttpRequest, anew: Entry, *, is_duplicate: bool = False) -> HttpResponse:
    if not is_duplicate:
        words = _("Written anew as entry %(no)s. The original stays readable, struck.")
        messages.success(request, words % {"no": anew.no})
        return redirect("entry", no=anew.no)
    words = _("Kept as entry %(no)s beside another round of that slot. Choose the one that counts.")
    messages.warning(request, words % {"no": anew.no})
    return redirect("choose_round", no=anew.no)


PAGES: dict[str, EntryView] = {
    Kind.ROUND: correct_round,
    Kind.STATE: correct_state,
    Kind.TUBE: correct_move,
}
