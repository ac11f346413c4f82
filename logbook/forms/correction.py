"""The forms of corrections: each asks for a reason, and for nothing that stands already."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.anew import draft_anew, without_a_place
from logbook.cells import SheetCell
from logbook.entry_page import read_meters
from logbook.forms.fields import ClockField, DayField, is_future
from logbook.forms.questions import QuestionForm, future_question, utc_instant
from logbook.forms.round import cell_field, scale_of, sheet_meters
from logbook.models import Correction, Round
from logbook.reading_text import Scale, TypedReading, read_typed
from logbook.services.rounds import RoundDraft
from logbook.state_questions import Question
from logbook.times import minute_of
from logbook.words import listed
from station.limits import LimitBook
from station.models import Meter, Transmitter
from station.states import Modulation

LONGEST_REASON = 200


class ReasonField(forms.CharField):
    """Why: no correction is made without it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            label=gettext_lazy("Reason for the correction"),
            max_length=LONGEST_REASON,
            error_messages={
                "required": gettext_lazy("Why is it corrected? Write the reason in a few words."),
            },
            **options,
        )


@dataclass(frozen=True)
class ValueRow:
    """A meter with what stands, and the fields for what should."""

    meter: Meter
    cell: SheetCell
    new: forms.BoundField
    out: forms.BoundField


class VoidForm(forms.Form):
    """Nothing but the reason."""

    reason = ReasonField()


class ValuesForm(forms.Form):
    """For each meter a field for the new value (``new-CODE``) and one to take it out (``out-``).

    ``seen`` is the number of the newest correction that the page knew of.
    """

    reason = ReasonField()
    seen = forms.IntegerField(widget=forms.HiddenInput())

    def __init__(
        self, *args: Any, of: Round, corrections: Sequence[Correction], **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.of, self.book = of, LimitBook(of.entry.transmitter)
        self.seen_now = max((one.entry.no for one in corrections), default=0)
        self.read = read_meters(of, sheet_meters(self.book), self.book, corrections)
        for one in self.read:
            self.fields[new_name(one.meter)] = cell_field()
            self.fields[out_name(one.meter)] = forms.BooleanField(required=False)

    def rows(self) -> list[ValueRow]:
        return [
            ValueRow(one.meter, one.cell, self[new_name(one.meter)], self[out_name(one.meter)])
            for one in self.read
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("seen") != self.seen_now:
            raise ValidationError(
                _(
                    "Somebody corrected this round meanwhile. The values below are what stands "
                    "now; nothing of yours was saved. Look again, and save if it is still right."
                )
            )
        data["cells"] = self.read_cells()
        if not data["cells"] and not self.errors:
            raise ValidationError(
                _("Nothing would change: write a new value, or mark one to be taken out.")
            )
        return data

    def read_cells(self) -> dict[Meter, TypedReading]:
        """What is to stand: a blank reading for what is taken out."""
        cells: dict[Meter, TypedReading] = {}
        for one in self.read:
            text = self.cleaned_data.get(new_name(one.meter), "")
            is_out = self.cleaned_data.get(out_name(one.meter))
            if text and is_out:
                sentence = _("Write a new value or take it out, not both.")
                self.add_error(new_name(one.meter), sentence)
            elif is_out and one.cell.shown:
                cells[one.meter] = TypedReading()
            elif text:
                cells[one.meter] = self.read_cell(one.meter, text)
        return cells

    def read_cell(self, meter: Meter, text: str) -> TypedReading:
        scale = scale_of(self.book, meter, self.of.entry.observed_at)
        typed = read_typed(text, scale)
        if typed.problem:
            self.add_error(new_name(meter), no_reading(text, scale))
        return typed


def new_name(meter: Meter) -> str:
    return f"new-{meter.code}"


def out_name(meter: Meter) -> str:
    return f"out-{meter.code}"


def no_reading(text: str, scale: Scale | None) -> str:
    """A correction is written with the sheet in hand: it keeps no text for later."""
    if scale is None:
        sentence = _(
            "'%(typed)s' is no reading of this meter: write digits with one comma or point, or a "
            "code key."
        )
        return sentence % {"typed": text}
    return _(
        "'%(typed)s' is no reading of this meter: write a number from %(low)g to %(full)g "
        "%(unit)s, >%(full)g beyond the scale, or a code key."
    ) % {"typed": text, "low": scale.low, "full": scale.full, "unit": scale.unit}


class AnewForm(QuestionForm):
    """A round's transmitter, slot, time and programme; what is left as it stands stays."""

    transmitter = forms.ModelChoiceField(
        Transmitter.objects.none(),
        label=gettext_lazy("Transmitter"),
        to_field_name="code",
        empty_label=None,
        error_messages={"invalid_choice": gettext_lazy("Choose a transmitter of the list.")},
    )
    slot_day = DayField(label=gettext_lazy("Day of the slot, UTC"))
    slot_clock = ClockField(label=gettext_lazy("Slot, UTC"))
    seen_day = DayField(label=gettext_lazy("Day on which it was read, UTC"))
    seen_clock = ClockField(label=gettext_lazy("Read at, UTC"))
    modulation = forms.ChoiceField(
        label=gettext_lazy("Programme"), choices=Modulation.choices, widget=forms.RadioSelect
    )
    reason = ReasonField()

    def __init__(self, *args: Any, of: Round, **options: Any) -> None:
        self.of = of
        super().__init__(*args, initial=self.standing(), **options)
        self.fields["transmitter"].queryset = Transmitter.objects.filter(station=of.station)

    def standing(self) -> dict[str, Any]:
        slot, seen = self.of.slot.astimezone(UTC), self.of.entry.observed_at.astimezone(UTC)
        return {
            "transmitter": self.of.entry.transmitter,
            "slot_day": slot.date(),
            "slot_clock": slot.time(),
            "seen_day": seen.date(),
            "seen_clock": seen.time(),
            "modulation": self.of.modulation,
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        data["slot"] = utc_instant(data["slot_day"], data["slot_clock"])
        data["observed_at"] = self.observed_at(utc_instant(data["seen_day"], data["seen_clock"]))
        if not self.is_changed():
            raise ValidationError(
                _("Nothing would change: transmitter, slot, time and programme stand like this.")
            )
        self.ask(self.questions())
        return data

    def observed_at(self, typed: datetime) -> datetime:
        """The instant that was typed; the round's own where its minute was left as it stands."""
        known = self.of.entry.observed_at
        return known if minute_of(typed) == minute_of(known) else typed

    def is_changed(self) -> bool:
        data, of = self.cleaned_data, self.of
        wanted = (data["transmitter"], data["slot"], data["observed_at"], data["modulation"])
        return wanted != (of.entry.transmitter, of.slot, of.entry.observed_at, of.modulation)

    def questions(self) -> Iterator[Question]:
        data = self.cleaned_data
        if is_future(data["observed_at"], self.now):
            yield future_question(data["observed_at"], self.now, "seen_clock")
        lost = without_a_place(self.of, data["transmitter"])
        if lost:
            yield Question(
                f"without:{data['transmitter'].code}",
                "transmitter",
                _(
                    "%(transmitter)s has no meter for: %(meters)s. Written anew, these readings "
                    "stay readable in the struck round alone."
                )
                % {
                    "transmitter": data["transmitter"].code,
                    "meters": listed(meter.label for meter in lost),
                },
            )

    def draft(self) -> RoundDraft:
        names = ("transmitter", "slot", "observed_at", "modulation")
        return draft_anew(self.of, **{name: self.cleaned_data[name] for name in names})


class ChoiceForm(forms.Form):
    """Which of the rounds of one slot counts."""

    chosen = forms.TypedChoiceField(
        label=gettext_lazy("The round that counts"),
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Choose the round that counts.")},
    )
    reason = ReasonField()

    def __init__(self, *args: Any, rounds: Sequence[Round], **options: Any) -> None:
        super().__init__(*args, **options)
        self.rounds = {row.entry.no: row for row in rounds}
        self.fields["chosen"].choices = [(no, choice_words(row)) for no, row in self.rounds.items()]

    @property
    def round(self) -> Round:
        return self.rounds[self.cleaned_data["chosen"]]


def choice_words(row: Round) -> str:
    facts = {"no": row.entry.no, "name": row.entry.name_as_written}
    if row.duplicate_of_id is None:
        return _("entry %(no)s, %(name)s: it counts now; the others are struck") % facts
    return _("entry %(no)s, %(name)s: its values take the place of those that count now") % facts
