"""The forms of a tube's move: where it goes, and where the one goes that stands there."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.bodies import socket_code
from logbook.forms.correction import ReasonField
from logbook.forms.fields import ClockField, DayField, KeyField, is_future
from logbook.forms.questions import QuestionForm, TimedForm, future_question, utc_instant
from logbook.models import RemovalReason, TubePlace
from logbook.services.tubes import TubeDraft
from logbook.state_questions import Question
from logbook.tube_log import moves_of, place_words, places_of
from logbook.tube_stays import Move, Stay, stays
from station.models import Socket, Station, Tube

EXCHANGE = "exchange"
NOT_SAID = [("", gettext_lazy("not said"))]


class TubeForm(QuestionForm):
    tube = forms.ChoiceField(label=gettext_lazy("Tube"))
    to = forms.ChoiceField(label=gettext_lazy("Goes to"))
    reason = forms.ChoiceField(
        label=gettext_lazy("Why it leaves its socket"),
        required=False,
        choices=[*NOT_SAID, *RemovalReason.choices],
    )
    other_to = forms.ChoiceField(
        label=gettext_lazy("The tube that stands there goes to"),
        required=False,
        choices=[
            ("", gettext_lazy("none stands there")),
            (EXCHANGE, gettext_lazy("the socket that this tube leaves")),
            *TubePlace.choices,
        ],
    )
    other_reason = forms.ChoiceField(
        label=gettext_lazy("Why that one leaves"),
        required=False,
        choices=[*NOT_SAID, *RemovalReason.choices],
    )
    day = DayField(label=gettext_lazy("Day, UTC"))
    clock = ClockField(label=gettext_lazy("Time, UTC"))
    note = forms.CharField(label=gettext_lazy("Note"), required=False, max_length=200)
    client_key = KeyField()

    def __init__(self, data: Any = None, *, station: Station, **options: Any) -> None:
        super().__init__(data, **options)
        self.tubes = {tube.serial: tube for tube in tubes_of(station)}
        self.sockets = {socket_code(one): one for one in sockets_of(station)}
        self.by_pk = {one.pk: one for one in self.sockets.values()}
        self.moves = moves_of(station)
        self.fields["tube"].choices = [("", ""), *tube_choices(station, self)]
        self.fields["to"].choices = [("", ""), *self.target_choices()]

    def target_choices(self) -> list[tuple[str, Any]]:
        sockets = [
            (code, f"{one} ({_(' or ').join(kind.code for kind in one.fits.all())})")
            for code, one in self.sockets.items()
        ]
        return [(_("Sockets"), sockets), (_("No socket"), TubePlace.choices)]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors:
            data["observed_at"] = utc_instant(data["day"], data["clock"])
            self.look_at_places(data)
            if not self.errors:
                self.ask(self.questions(data))
        return data

    def look_at_places(self, data: dict[str, Any]) -> None:
        """Where the tube stood then, and which one stands where it goes."""
        self.tube = self.tubes[data["tube"]]
        self.target = self.sockets.get(data["to"])
        standing = standing_then(self.moves, data["observed_at"])
        self.source = next((self.by_pk[s.socket] for s in standing if s.tube == self.tube.pk), None)
        others = [s.tube for s in standing if self.target and s.socket == self.target.pk]
        self.other = next((one for one in self.tubes.values() if one.pk in others), None)
        for field, sentence in list(self.problems(data)):
            self.add_error(field, ValidationError(sentence))

    def problems(self, data: dict[str, Any]) -> Iterable[tuple[str, str]]:
        if self.target and self.target == self.source:
            yield "to", _("Tube %(tube)s stands there already.") % {"tube": self.tube}
        elif self.other and not data["other_to"]:
            sentence = _("Tube %(tube)s stands in %(socket)s then: say where it goes.")
            yield "other_to", sentence % {"tube": self.other, "socket": self.target}
        elif data["other_to"] == EXCHANGE and not self.source:
            yield "other_to", _("Tube %(tube)s leaves no socket.") % {"tube": self.tube}
        if self.source and not self.target and not data["reason"]:
            yield "reason", _("Say why it leaves: lives that ended differently count differently.")
        if self.other and data["other_to"] not in {"", EXCHANGE} and not data["other_reason"]:
            yield "other_reason", _("Say why tube %(tube)s leaves.") % {"tube": self.other}

    def questions(self, data: dict[str, Any]) -> list[Question]:
        at, pairs = data["observed_at"], [(self.tube, self.target)]
        if self.other and data["other_to"] == EXCHANGE:
            pairs.append((self.other, self.source))
        asked = [
            fit_question(tube, socket)
            for tube, socket in pairs
            if socket and tube.tube_type not in socket.fits.all()
        ]
        if is_future(at, self.now):
            asked.append(future_question(at, self.now, "clock"))
        if at.date() < self.tube.received_on:
            asked.append(early_question(self.tube, at))
        return asked

    def drafts(self) -> list[TubeDraft]:
        """The moves of the action: that of the tube, and of the one that it pushes out."""
        data = self.cleaned_data
        place = "" if self.target else data["to"]
        reason = data["reason"] if self.source else ""
        drafts = [TubeDraft(self.tube, self.source, self.target, place, reason, data["note"])]
        if self.other:
            is_exchange = data["other_to"] == EXCHANGE
            goes_to = self.source if is_exchange else None
            place = "" if is_exchange else data["other_to"]
            drafts.append(TubeDraft(self.other, self.target, goes_to, place, data["other_reason"]))
        return drafts


class TubeTimeForm(TimedForm):
    """Another time for a move, and for all that was moved with it."""

    reason = ReasonField()


def tubes_of(station: Station) -> Iterable[Tube]:
    return Tube.objects.filter(station=station).select_related("tube_type")


def sockets_of(station: Station) -> Iterable[Socket]:
    return (
        Socket.objects.filter(station=station)
        .select_related("stage__transmitter")
        .prefetch_related("fits")
        .order_by("stage__transmitter__sheet_order", "stage__code", "code")
    )


def standing_then(moves: Iterable[Move], at: datetime) -> list[Stay]:
    """Which tube stood where just before an instant."""
    return [s for s in stays(moves) if s.since < at and (s.until is None or s.until >= at)]


def tube_choices(station: Station, form: TubeForm) -> list[tuple[str, str]]:
    """Every tube with its type and where it is now."""
    places = places_of(station)
    sockets = {s.tube: form.by_pk[s.socket] for s in stays(form.moves) if s.until is None}
    return [
        (tube.serial, f"{tube} ({tube.tube_type}), {where(tube, sockets, places)}")
        for tube in form.tubes.values()
    ]


def where(tube: Tube, sockets: dict[int, Socket], places: dict[int, str]) -> str:
    return str(sockets.get(tube.pk) or place_words(places.get(tube.pk, "")))


def fit_question(tube: Tube, socket: Socket) -> Question:
    sentence = _("Type %(type)s is not among those that fit %(socket)s: %(fits)s.")
    facts = {
        "type": tube.tube_type,
        "socket": socket,
        "fits": _(", ").join(kind.code for kind in socket.fits.all()),
    }
    return Question(f"fit:{tube.serial}:{socket.pk}", "to", sentence % facts)


def early_question(tube: Tube, at: datetime) -> Question:
    sentence = _("Tube %(tube)s was received on %(day)s, after that.")
    return Question(
        f"early:{tube.serial}:{at:%Y%m%d}",
        "day",
        sentence % {"tube": tube, "day": f"{tube.received_on:%Y-%m-%d}"},
    )
