"""Pages that belong to no room: the way in, and the pages for what went wrong."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, PasswordChangeView
from django.contrib.messages.views import SuccessMessageMixin
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import NoReverseMatch, reverse, reverse_lazy
from django.utils.translation import gettext_lazy as _

from station.first_run import Faulty, begin, is_first_run
from station.forms import StartForm
from station.models import Station
from station.register.faults import Fault
from station.statuses import LOOKS


@login_not_required
def alive(request: HttpRequest) -> HttpResponse:
    return HttpResponse("alive\n", content_type="text/plain")


def home(request: HttpRequest) -> HttpResponse:
    """The hall where the analysis is installed, else the log's own list of transmitters."""
    try:
        return redirect(reverse("hall"))
    except NoReverseMatch:
        return redirect("transmitters")


@login_not_required
def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "station/403.html", status=403)


@login_not_required
def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "station/404.html", status=404)


@login_not_required
def failed(request: HttpRequest) -> HttpResponse:
    """Without the request: what failed may be what every page reads."""
    return HttpResponse(render_to_string("station/500.html"), status=500)


@login_not_required
def start(request: HttpRequest) -> HttpResponse:
    """The way from an empty database to the first round; there is none once there is a person."""
    if not is_first_run():
        raise Http404
    needs_register = not Station.objects.exists()
    form = StartForm(request.POST or None, request.FILES or None, needs_register=needs_register)
    faults: list[Fault] = []
    if form.is_valid():
        try:
            return begun(request, form)
        except Faulty as refusal:
            faults = refusal.faults
    status = 400 if form.is_bound else 200
    return render(request, "station/start.html", {"form": form, "faults": faults}, status=status)


def begun(request: HttpRequest, form: StartForm) -> HttpResponse:
    """Make what the form says, sign its person in, and lead on to the rounds."""
    file = request.FILES.get("register")
    person = begin(
        form.first_person,
        form.cleaned_data.get("register", ""),
        file.name if file else "",
        at=datetime.now(UTC),
    )
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    messages.success(
        request, _("The station is described. Add its people, then type the first round.")
    )
    return redirect("transmitters")


class SignIn(LoginView):
    """The way in; while nobody can sign in, it leads to the first start."""

    template_name = "station/sign_in.html"
    redirect_authenticated_user = True

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return redirect("start") if is_first_run() else super().get(request, *args, **kwargs)


class OwnPassword(SuccessMessageMixin, PasswordChangeView):
    """A new password of one's own; every other session of the person ends with the old one."""

    template_name = "station/password.html"
    success_url = reverse_lazy("home")
    success_message = _("Your password is changed. Elsewhere you are signed out.")


class SampleForm(forms.Form):
    """One field of each kind for the page of parts."""

    text = forms.CharField(label=_("A text"), help_text=_("A hint."), required=False)
    asked = forms.CharField(label=_("A field with a sentence"))
    choice = forms.ChoiceField(label=_("A choice"), choices=[("a", "A"), ("b", "B")])
    radio = forms.ChoiceField(
        label=_("A few"), choices=[("a", "A"), ("b", "B")], widget=forms.RadioSelect
    )


@login_not_required
def parts(request: HttpRequest) -> HttpResponse:
    """Every part in every state; routed on a developer's machine alone."""
    board = {
        "levels": list(LOOKS),
        "instants": [datetime(2026, 10, 25, hour, 30, tzinfo=UTC) for hour in (0, 1)],
        "zone": ZoneInfo("Europe/Vienna"),
        "form": SampleForm({"text": "typed", "choice": "a", "radio": "b"}),
    }
    return render(request, "station/parts.html", {"board": board})
