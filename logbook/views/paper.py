"""What leaves on paper, and what is kept: prints, the inspector's copy, holds."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import Resolver404, resolve
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.access import entry_for
from logbook.forms.copy import CopyForm
from logbook.forms.hold import HoldForm, ReleaseForm
from logbook.holds import holds, keep_from
from logbook.inspector_copy import inspector_copy
from logbook.models import Kind
from logbook.prints import note_print, print_mark
from logbook.services.holds import AlreadyReleased, record_hold, record_release
from logbook.times import log_day_of
from logbook.words import entry_words
from station.access import may, needs

LONGEST_ADDRESS = 200


@needs("read")
def printed(request: HttpRequest) -> HttpResponse:
    """Note the print of one of our pages, and show that page with its mark; asked for without a
    press, the first page is shown.
    """
    if request.method != "POST":
        return redirect("home")
    address = request.POST.get("address", "")
    if not is_page(address):
        raise Http404
    no = note_print(request.user.station, address, by=request.user, at=timezone.now())
    joint = "&" if "?" in address else "?"
    return HttpResponseRedirect(f"{address}{joint}print={no}")


def is_page(address: str) -> bool:
    """Whether it is the path of a page of ours, short enough to be kept."""
    is_path = address.startswith("/") and not address.startswith("//")
    if not is_path or len(address) > LONGEST_ADDRESS or not address.isprintable():
        return False
    try:
        resolve(address.partition("?")[0])
    except Resolver404:
        return False
    return True


@needs("read")
def copy(request: HttpRequest) -> HttpResponse:
    """The form; with a span in the address the copy itself."""
    station = request.user.station
    today = log_day_of(station, timezone.now())
    asked = request.GET if "since" in request.GET else None
    form = CopyForm(asked, initial={"since": today, "until": today})
    if not form.is_bound or not form.is_valid():
        status = 400 if form.is_bound else 200
        return render(request, "logbook/copy_choose.html", {"form": form}, status=status)
    days = form.cleaned_data["since"], form.cleaned_data["until"]
    board = inspector_copy(station, *days, timezone.now())
    return render(request, "logbook/copy.html", {"board": board, "mark": print_mark(request)})


@needs("read")
def hold_list(request: HttpRequest) -> HttpResponse:
    """What is held, and how long everything is kept; the engineer adds to it here."""
    station = request.user.station
    today = log_day_of(station, timezone.now())
    is_posted = request.method == "POST" and may(request.user, "sign")
    form = HoldForm(request.POST if is_posted else None)
    if form.is_bound and form.is_valid():
        entry = record_hold(station, form.facts, by=request.user, at=timezone.now())
        messages.success(request, _("Written as entry %(no)s.") % {"no": entry.no})
        return redirect("holds")
    context = {"form": form, "holds": list(holds(station)), "keep_from": keep_from(station, today)}
    return render(request, "logbook/holds.html", context)


@needs("sign")
def hold_released(request: HttpRequest, hold: int) -> HttpResponse:
    entry = entry_for(request.user, hold)
    if entry.kind != Kind.HOLD or entry.ended_by_id:
        raise Http404
    form = ReleaseForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        reference, at = form.cleaned_data["reference"], timezone.now()
        try:
            released = record_release(entry.hold, reference, by=request.user, at=at)
        except AlreadyReleased:
            messages.warning(request, _("It was released meanwhile; nothing was saved."))
        else:
            messages.success(request, _("Written as entry %(no)s.") % {"no": released.no})
        return redirect("holds")
    context = {"form": form, "entry": entry, "words": entry_words(entry)}
    return render(request, "logbook/hold_released.html", context)
