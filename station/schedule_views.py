"""The schedule's page, and the one that takes a new version of it."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from station.access import needs
from station.schedule_board import build_schedule
from station.schedule_file import ReadSchedule, read_schedule
from station.schedule_forms import ScheduleForm
from station.schedules import take_schedule


@needs("read")
def schedule(request: HttpRequest) -> HttpResponse:
    board = build_schedule(request.user.station, timezone.now())
    return render(request, "station/schedule.html", {"board": board})


@needs("schedule")
def schedule_new(request: HttpRequest) -> HttpResponse:
    """First a look at every line, then the taking; what is wrong can be put right in place."""
    station = request.user.station
    form = ScheduleForm(request.POST or None, request.FILES or None, station=station)
    read = None
    if form.is_valid():
        data = form.cleaned_data
        read = read_schedule(data["text"], station, data["six_digits"])
        if may_take(request, form, read):
            return taken(request, form, read)
        form = shown_again(form)
    context = {"form": form, "read": read}
    status = 400 if form.is_bound and not form.is_valid() else 200
    return render(request, "station/schedule_new.html", context, status=status)


def may_take(request: HttpRequest, form: ScheduleForm, read: ReadSchedule) -> bool:
    is_asked = request.POST.get("action") == "take" and bool(read.lines)
    are_good = not read.faults or form.cleaned_data["good_only"]
    return is_asked and are_good and not form.asks_past


def taken(request: HttpRequest, form: ScheduleForm, read: ReadSchedule) -> HttpResponse:
    version = take_schedule(
        request.user.station,
        read.lines,
        effective_from=form.cleaned_data["effective_from"],
        note=form.cleaned_data["note"],
        by=request.user,
        at=datetime.now(UTC),
    )
    words = ngettext(
        "%(n)s line is in force from %(at)s.",
        "%(n)s lines are in force from %(at)s.",
        len(read.lines),
    )
    messages.success(request, words % {"n": len(read.lines), "at": version})
    if read.faults:
        messages.warning(request, _("The refused lines were left out."))
    return redirect("schedule")


def shown_again(form: ScheduleForm) -> ScheduleForm:
    """The same form with the file's text in its field, so that nothing need be chosen twice."""
    data = form.data.copy()
    data["text"] = form.cleaned_data["text"]
    return ScheduleForm(data, station=form.station)
