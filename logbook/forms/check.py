"""The form of a test, a measurement or a look round, made from its plan; and of an adjustment."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.bodies import socket_code
from logbook.checks import NOT_GOOD, Fact, Plan
from logbook.filament_questions import filament_questions
from logbook.forms.fields import DayField, NumberField
from logbook.forms.questions import TimedForm
from logbook.forms.round import cell_field, typed_cells
from logbook.ledger import utc_text
from logbook.models import CheckMade, Entry, Round, RoundKind
from logbook.models.check import OF_TUBE, Topic
from logbook.services.rounds import RoundDraft
from logbook.state_questions import Question
from logbook.tube_log import moves_of
from logbook.tube_stays import stays
from station.limits import LimitBook
from station.models import Antenna, CoilSet, Meter, Socket, Station, Transmitter, Tube
from station.models.meter import Occasion
from station.states import Modulation

INSTANT_FORMATS = ["%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M"]


def note_field() -> forms.CharField:
    return forms.CharField(label=gettext_lazy("Reason or note"), required=False, max_length=300)


class CheckForm(TimedForm):
    """A field for each fact of the plan; ``cell-CODE`` for each meter that is read at a test."""

    def __init__(
        self, *args: Any, plan: Plan, station: Station, transmitter: Transmitter | None, **over: Any
    ) -> None:
        super().__init__(*args, **over)
        self.plan, self.station, self.transmitter = plan, station, transmitter
        self.book = LimitBook(transmitter) if transmitter else None
        self.sockets = sockets_of(transmitter) if transmitter else {}
        self.choices = {
            "socket": self.sockets,
            "coil_set": codes_of(CoilSet.objects.filter(transmitter=transmitter)),
            "antenna": codes_of(Antenna.objects.filter(station=station)),
        }
        self.meters = self.test_meters()
        for fact in plan.facts:
            self.fields[fact.name] = self.field_of(fact)
        for meter in self.meters:
            self.fields[f"cell-{meter.code}"] = cell_field()
            self.fields[f"cell-{meter.code}"].label = f"{meter.label}, {meter.unit}"
        self.fields["note"] = note_field()

    def test_meters(self) -> list[Meter]:
        if self.book is None or self.plan.topic != Topic.TONE_TEST:
            return []
        return [meter for meter in self.book.meters if meter.occasion == Occasion.TEST]

    def field_of(self, fact: Fact) -> forms.Field:
        common = {"label": fact.label, "required": fact.is_needed}
        if fact.kind == "number":
            return NumberField(fact.unit, **common)
        if fact.kind == "day":
            return DayField(**common)
        if fact.kind == "instant":
            wrong = _("Write day and time as 2026-03-01 14:07.")
            return forms.DateTimeField(
                input_formats=INSTANT_FORMATS, error_messages={"invalid": wrong}, **common
            )
        if fact.kind == "choice":
            own = self.choices.get(fact.name, {})
            known = fact.choices or tuple((code, str(one)) for code, one in own.items())
            return forms.ChoiceField(choices=[("", _("choose")), *known], **common)
        return forms.CharField(max_length=120, **common)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors:
            self.ask_why(self.questions())
        return data

    def questions(self) -> Iterator[Question]:
        """What is asked about: each is answered by a tick and a note."""
        data = self.cleaned_data
        if self.plan.topic in OF_TUBE:
            yield from filament_questions(self.plan.topic, data, self.tube())
        if self.plan.topic == Topic.FREQUENCY:
            offset, most = data["offset_hz"], self.transmitter.frequency_tolerance_hz
            if abs(offset) > most:
                said = _(
                    "%(offset)+g Hz is outside ±%(most)g Hz: measure again, then tell the "
                    "engineer in charge."
                )
                facts = {"offset": offset, "most": most}
                yield Question(f"offset:{offset:g}", "offset_hz", said % facts, needs_reason=True)
        is_dark = self.plan.topic == Topic.TOWER_LIGHTS and data["result"] == NOT_GOOD
        if is_dark and not (data["told"] and data["told_at"]):
            said = _("A light failed: who was told, and when?")
            yield Question("told", "told", said, needs_reason=True)

    def tube(self) -> Tube | None:
        """The tube that stood in the socket then."""
        socket, at = self.sockets[self.cleaned_data["socket"]], self.cleaned_data["observed_at"]
        for stay in stays(moves_of(self.station)):
            is_then = stay.since <= at and (stay.until is None or at < stay.until)
            if stay.socket == socket.pk and is_then:
                return Tube.objects.select_related("tube_type").get(pk=stay.tube)
        return None

    def facts(self) -> dict[str, Any]:
        """What was said, as the log keeps it; of a filament with its tube."""
        said = {fact.name: self.cleaned_data[fact.name] for fact in self.plan.facts}
        kept = {name: kept_value(value) for name, value in said.items() if value not in (None, "")}
        if self.plan.topic in OF_TUBE:
            tube = self.tube()
            kept |= {"tube": tube.serial} if tube else {}
        return kept

    def readings(self) -> RoundDraft | None:
        at = self.cleaned_data["observed_at"]
        texts = {meter: self.cleaned_data[f"cell-{meter.code}"] for meter in self.meters}
        typed = typed_cells(self.book, texts, lambda _meter: at) if self.book else {}
        if not typed or self.transmitter is None:
            return None
        return RoundDraft(
            transmitter=self.transmitter,
            slot=at.replace(second=0),
            observed_at=at,
            modulation=Modulation.ON,
            typed=typed,
            kind=RoundKind.EXTRA,
        )


def sockets_of(transmitter: Transmitter) -> dict[str, Socket]:
    sockets = Socket.objects.filter(stage__transmitter=transmitter)
    return {socket_code(one) or "": one for one in sockets.select_related("stage__transmitter")}


def codes_of(rows: Iterable[Antenna | CoilSet]) -> dict[str, Antenna | CoilSet]:
    return {one.code: one for one in rows}


def kept_value(value: Any) -> Any:
    if isinstance(value, datetime):
        return utc_text(value)
    return value if isinstance(value, int | float | str) else value.isoformat()


class AdjustmentForm(TimedForm):
    """What was done between two sets of readings: the fault is not erased by its own cure."""

    as_found = forms.ChoiceField(label=gettext_lazy("As found"), required=False)
    action = forms.CharField(label=gettext_lazy("What was adjusted, and how"), max_length=300)
    as_left = forms.ChoiceField(label=gettext_lazy("As left"), required=False)
    note = note_field()

    field_order = ("as_found", "action", "as_left")

    def __init__(
        self,
        *args: Any,
        rounds: Sequence[Entry],
        is_beyond: Callable[[Round], bool],
        **options: Any,
    ) -> None:
        """``is_beyond`` tells whether a value of a round has passed its limits."""
        super().__init__(*args, **options)
        self.rounds, self.is_beyond = {str(one.no): one for one in rounds}, is_beyond
        choices = [(no, round_words(one)) for no, one in self.rounds.items()]
        for name in ("as_found", "as_left"):
            self.fields[name].choices = [("", _("none")), *choices]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        found, left = self.entry("as_found"), self.entry("as_left")
        if found is None and not data.get("note"):
            sentence = _("Read it as found before adjusting. If that was not done, say why below.")
            self.add_error("as_found", sentence)
        if found and left and left.observed_at <= found.observed_at:
            self.add_error("as_left", _("It was read before the round as found."))
        if not self.errors and found and left is None and self.is_beyond(found.round):
            sentence = _("A value as found had passed its limits: read it as left too.")
            self.ask([Question(f"left:{found.no}", "as_left", sentence)])
        return data

    def entry(self, name: str) -> Entry | None:
        return self.rounds.get(self.cleaned_data.get(name, ""))


def round_words(entry: Entry) -> str:
    kind = entry.round.get_kind_display()
    return f"{entry.observed_at.astimezone(UTC):%m-%d %H:%M} UTC, {kind}, {entry.no}"


class RepairForm(TimedForm):
    """The end of a fault that was written by a check."""

    done = forms.CharField(label=gettext_lazy("What was repaired"), max_length=120)
    told = forms.CharField(label=gettext_lazy("Who was told"), max_length=120, required=False)
    note = note_field()

    field_order = ("done", "told")

    def __init__(self, *args: Any, of: CheckMade, **options: Any) -> None:
        super().__init__(*args, **options)
        self.of = of

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("observed_at") and data["observed_at"] < self.of.entry.observed_at:
            self.add_error("clock", _("It was seen to fail after that."))
        return data
