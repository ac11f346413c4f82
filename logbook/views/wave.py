"""Writing a change of wave, and the card of the settings of every wave."""

from datetime import UTC, datetime, timedelta
from functools import partial

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from logbook.forms.state import POSITIVE
from logbook.forms.wave import WaveForm
from logbook.models import Entry
from logbook.prints import print_mark
from logbook.services.waves import record_wave_change
from logbook.standing import standing_at
from logbook.wave_board import (
    Asked,
    dial_lines,
    first_values,
    known_words,
    next_start,
    wished_wave,
)
from logbook.wave_card import wave_cards
from logbook.wave_log import WaveLog
from station.access import needs, transmitter_for
from station.limits import LimitBook
from station.models import Transmitter

STAMPS = ("ht_off", "rf_on", "full_power")


@needs("log")
def wave_new(request: HttpRequest, code: str) -> HttpResponse:
    """A button 'stamp' only writes the time into its field: browsers with scripts do it alone."""
    transmitter, now = transmitter_for(request.user, code), datetime.now(UTC)
    form, log = wave_form(request, transmitter, now), WaveLog(transmitter, now)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        known = log.best_known(data["frequency"], data["antenna"])
        references = {meter: setting.median for meter, setting in known.items()}
        entry = record_wave_change(form.draft(references), by=request.user, at=now)
        messages.success(request, _("Saved as entry %(no)s.") % {"no": entry.no})
        return after_saving(transmitter, entry)
    start = next_start(transmitter, now)
    wished, waves = wished_wave(transmitter, asked_for(request, form), start)
    known = log.best_known(wished.frequency_khz, wished.antenna) if wished.frequency_khz else {}
    if not form.is_bound:
        form.initial = {**first_values(wished, form, known), **form.initial}
    context = {
        "form": form,
        "is_fresh": request.method == "GET",
        "transmitter": transmitter,
        "start": start,
        "starts_in_min": (start.begin - now) // timedelta(minutes=1) if start else None,
        "waves": waves,
        "wished": wished,
        "stamps": [form[name] for name in STAMPS],
        "lines": list(dial_lines(form, log, wished, known_words(log, wished, known))),
    }
    return render(request, "logbook/wave_new.html", context)


def wave_form(request: HttpRequest, transmitter: Transmitter, now: datetime) -> WaveForm:
    """Bound when it is to be saved; a stamp alone gives back what was typed, with its time.

    The first button, which Enter presses, stamps nothing and saves nothing.
    """
    options = {"book": LimitBook(transmitter), "stands": partial(standing_at, transmitter)}
    if request.method != "POST":
        return WaveForm(**options)
    stamp = request.POST.get("stamp")
    if stamp is None:
        return WaveForm(request.POST, **options)
    typed = request.POST.dict()
    if stamp in STAMPS:
        typed |= {stamp: f"{now:%H:%M:%S}", "day": f"{now:%Y-%m-%d}"}
    return WaveForm(initial=typed, **options)


def asked_for(request: HttpRequest, form: WaveForm) -> Asked:
    """The wave that was typed, else that of the address; what is no frequency is not said."""
    typed = form.data if form.is_bound else form.initial
    texts = [str(typed.get("frequency", "")), request.GET.get("khz", "")]
    found = [match for match in map(POSITIVE.fullmatch, texts) if match]
    khz = float(found[0][1].replace(",", ".")) or None if found else None
    return Asked(
        frequency_khz=khz,
        antenna=typed.get("antenna", ""),
        coil_set=typed.get("coil_set", "") or request.GET.get("coil", ""),
    )


def after_saving(transmitter: Transmitter, entry: Entry) -> HttpResponse:
    """The first readings against their limits, where any were typed."""
    as_left = entry.wavechange.as_left
    if as_left is None:
        answer = redirect("round_new", transmitter.code)
    else:
        answer = redirect("round_saved", as_left.no)
    # So that the page drops the draft that it kept on this device.
    answer.set_cookie(
        "wave_saved", entry.client_key, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE
    )
    return answer


@needs("read")
def wave_settings(request: HttpRequest, code: str) -> HttpResponse:
    transmitter, now = transmitter_for(request.user, code), datetime.now(UTC)
    context = {
        "transmitter": transmitter,
        "card": wave_cards(transmitter, now),
        "made_at": now,
        "mark": print_mark(request),
    }
    return render(request, "logbook/wave_settings.html", context)
