"""Typing a round, and the round once it is saved."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from logbook.forms.round import ReReadForm, RoundForm
from logbook.models import Round, RoundKind
from logbook.queries import intervals_asked
from logbook.round_sheet import round_sheet
from logbook.saved_round import SavedBoard, read_again, saved_board
from logbook.services.corrections import AlreadyEnded, correct_values
from logbook.services.rounds import SavedRound, record_round
from logbook.slots import USUAL_INTERVAL_MIN, latest_slot, parse_slot
from logbook.standing import standing_at
from logbook.transmitter_list import transmitter_lines
from station.access import needs, own, transmitter_for
from station.limits import LimitBook
from station.models import Person, Transmitter


@needs("read")
def transmitters(request: HttpRequest) -> HttpResponse:
    lines = transmitter_lines(request.user.station, datetime.now(UTC))
    return render(request, "logbook/transmitters.html", {"lines": lines})


@needs("log")
def round_new(request: HttpRequest, code: str) -> HttpResponse:
    transmitter, now = transmitter_for(request.user, code), datetime.now(UTC)
    interval_min = interval_now(transmitter, now)
    slot = slot_wished(request, interval_min, now)
    form = RoundForm(
        request.POST or None,
        initial={**first_values(transmitter, slot, now), "kind": kind_wished(request)},
        book=LimitBook(transmitter),
        now=now,
    )
    if form.is_valid() and form.is_saving:
        saved = record_round(form.draft(), by=request.user, at=now)
        tell_saved(request, saved)
        return redirect("round_saved", saved.round.entry.no)
    board = round_sheet(form, slot=form.slot or slot, interval_min=interval_min)
    return render(request, "logbook/round_new.html", {"form": form, "board": board})


def kind_wished(request: HttpRequest) -> str:
    """The kind of round that the address names, such as 'as found' before an adjustment."""
    wished = request.GET.get("kind", "")
    return wished if wished in RoundKind.values else RoundKind.ROUTINE


def interval_now(transmitter: Transmitter, now: datetime) -> int:
    """Minutes between rounds in the state that stands; the usual ones where none are asked."""
    state = standing_at(transmitter, now).state
    return intervals_asked([transmitter])[transmitter.pk].get(state, USUAL_INTERVAL_MIN)


def slot_wished(request: HttpRequest, interval_min: int, now: datetime) -> datetime:
    """The slot of the address; the one that fell due last where it names none."""
    wished = request.GET.get("slot", "")
    slot = parse_slot(wished)
    if wished and slot is None:
        messages.warning(request, _("That is no slot. This is the one that fell due last."))
    return slot or latest_slot(now, interval_min)


def first_values(transmitter: Transmitter, slot: datetime, now: datetime) -> dict[str, object]:
    """What the page starts with: a round of another day was not read just now."""
    is_near = abs(now - slot).total_seconds() < 12 * 3600
    return {
        "slot_day": slot.date(),
        "slot_clock": slot.time(),
        "observed": now.time() if is_near else None,
        "observed_at": now if is_near else slot,
        "modulation": transmitter.default_modulation,
    }


def tell_saved(request: HttpRequest, saved: SavedRound) -> None:
    facts = {"no": saved.round.entry.no}
    if saved.is_repeat:
        messages.warning(
            request, _("This page was saved before, as entry %(no)s: not saved twice.") % facts
        )
    else:
        messages.success(request, _("Saved as entry %(no)s.") % facts)


@needs("read")
def round_saved(request: HttpRequest, no: int) -> HttpResponse:
    board = saved_board(round_for(request.user, no))
    return render_saved(request, board, re_read_form(board))


@needs("log")
def round_re_read(request: HttpRequest, no: int) -> HttpResponse:
    """Take what was read again; asked for without any, the saved round itself is shown."""
    board = saved_board(round_for(request.user, no))
    if request.method != "POST":
        return redirect("round_saved", no)
    form = re_read_form(board, request.POST)
    if form.is_valid() and form.cleaned_data["after"] != board.correction_count:
        messages.warning(request, _("This round was read again meanwhile; this is what stands."))
    elif form.errors or save_read_again(form, board.row, by=request.user):
        return render_saved(request, board, form)
    return redirect("round_saved", no)


def round_for(person: Person, no: int) -> Round:
    rounds = Round.objects.select_related(
        "station", "entry__transmitter__station", "entry__station", "duplicate_of__entry"
    )
    return own(person, rounds, entry__no=no)


def re_read_form(board: SavedBoard, data: object = None) -> ReReadForm:
    offers = {one.cell.meter: one.offer for one in board.by_meter}
    return ReReadForm(data, offers=offers, initial={"after": board.correction_count})


def render_saved(request: HttpRequest, board: SavedBoard, form: ReReadForm) -> HttpResponse:
    fields = [(one, form.field_of(one.cell.meter)) for one in board.by_meter]
    context = {"board": board, "form": form, "asked": fields}
    return render(request, "logbook/round_saved.html", context)


def save_read_again(form: ReReadForm, row: Round, *, by: Person) -> bool:
    """Write what was read again as a correction; True while a field needs another look."""
    cells, problems = read_again(row, form.texts())
    if cells:
        try:
            correct_values(row, cells, reason=_("re-read"), by=by, at=datetime.now(UTC))
        except AlreadyEnded:
            return False
    for meter, problem in problems.items():
        form.add_error(f"cell-{meter.code}", problem)
    return bool(problems)
