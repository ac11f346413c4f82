"""Writing a change of state, and back to the round."""

from datetime import UTC, datetime
from functools import partial

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from logbook.forms.state import StateForm
from logbook.point_words import point_words, state_word
from logbook.services.states import record_state
from logbook.slots import parse_slot, slot_text
from logbook.standing import standing_at
from station.access import needs, transmitter_for


@needs("log")
def state_new(request: HttpRequest, code: str) -> HttpResponse:
    transmitter, now = transmitter_for(request.user, code), datetime.now(UTC)
    form = StateForm(
        request.POST or None,
        transmitter=transmitter,
        now=now,
        stands=partial(standing_at, transmitter),
        initial={"day": now.date(), "observed": now.time(), "back": request.GET.get("slot", "")},
    )
    if form.is_valid():
        saved = [record_state(draft, by=request.user, at=now) for draft in form.drafts()]
        messages.success(request, _("Saved as entry %(no)s.") % {"no": saved[-1].entry.no})
        return redirect(round_address(code, form.cleaned_data["back"]))
    steps = [state_word(state) for state in form.steps_missing]
    context = {"form": form, "transmitter": transmitter, "steps": steps}
    return render(request, "logbook/state_new.html", {**context, "point": point_words(form.point)})


def round_address(code: str, back: str) -> str:
    """The round page that the person came from, at its slot."""
    address, slot = reverse("round_new", args=[code]), parse_slot(back)
    return f"{address}?slot={slot_text(slot)}" if slot else address
