"""The form of a round: typed text into readings, times into instants; a cell holds nothing up."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy

from logbook.cell_text import read_cell
from logbook.forms.fields import (
    ClockField,
    DayField,
    KeyField,
    MeantField,
    future_sentence,
    is_future,
)
from logbook.models import RoundKind
from logbook.reading_text import LONGEST_TEXT, Scale, TypedReading
from logbook.services.rounds import RoundDraft
from logbook.slots import nearest, slot_text
from station.limits import LimitBook
from station.models import Meter
from station.models.meter import Occasion
from station.states import Modulation

ON_THE_SHEET = (Occasion.ROUND, Occasion.SHIFT)


def sheet_meters(book: LimitBook) -> list[Meter]:
    """The meters of the round sheet in its order; those of a test have a page of their own."""
    return [meter for meter in book.meters if meter.occasion in ON_THE_SHEET]


def scale_of(book: LimitBook, meter: Meter, at: datetime) -> Scale | None:
    instrument = book.instrument(meter, at)
    if instrument is None:
        return None
    return Scale(instrument.scale_low, instrument.full_scale, meter.unit)


def typed_cells(
    book: LimitBook, texts: Mapping[Meter, str], at: Callable[[Meter], datetime]
) -> dict[Meter, TypedReading]:
    """The cells that are not blank, each read on the instrument that hung there at its instant."""
    return {
        meter: read_cell(text, scale_of(book, meter, at(meter)))
        for meter, text in texts.items()
        if text
    }


def cell_field() -> forms.CharField:
    return forms.CharField(required=False, max_length=LONGEST_TEXT)


class RoundForm(forms.Form):
    """A field a meter (``cell-CODE``) and one a panel group (``seen-N``) beside the round's own."""

    slot_day = DayField(label=gettext_lazy("Day of the slot, UTC"))
    slot_clock = ClockField(label=gettext_lazy("Slot, UTC"))
    observed = ClockField(label=gettext_lazy("Read at, UTC"))
    kind = forms.ChoiceField(label=gettext_lazy("Kind"), choices=RoundKind.choices)
    modulation = forms.ChoiceField(
        label=gettext_lazy("Programme"), choices=Modulation.choices, widget=forms.RadioSelect
    )
    paper_sheet = forms.CharField(
        label=gettext_lazy("Typed from paper: number of the sheet"), required=False, max_length=20
    )
    client_key = KeyField()
    meant = MeantField()

    def __init__(self, *args: Any, book: LimitBook, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.book, self.now = book, now
        self.meters = sheet_meters(book)
        self.groups = list(dict.fromkeys(meter.panel_group for meter in self.meters))
        for number, _group in enumerate(self.groups):
            self.fields[f"seen-{number}"] = ClockField(required=False)
        for meter in self.meters:
            self.fields[f"cell-{meter.code}"] = cell_field()

    @property
    def is_saving(self) -> bool:
        """Nothing but the save button saves: the first button, which Enter presses, checks."""
        return self.data.get("action") == "save"

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        day, clock = data.get("slot_day"), data.get("slot_clock")
        if day and clock:
            slot = datetime.combine(day, clock.replace(second=0), UTC)
            data["slot"] = slot
            data["observed_at"] = self.instant("observed", slot)
            data["group_observed_at"] = {
                group: instant
                for number, group in enumerate(self.groups)
                if (instant := self.instant(f"seen-{number}", slot))
            }
        return data

    def instant(self, name: str, slot: datetime) -> datetime | None:
        """When a clock time was, nearest to the slot; one that has not come yet is asked about."""
        clock = self.cleaned_data.get(name)
        if clock is None:
            return None
        instant = nearest(slot, clock)
        question = f"{name}:{slot_text(instant)}"
        if is_future(instant, self.now) and question not in self.cleaned_data.get("meant", ()):
            self.add_error(name, ValidationError(future_sentence(instant, self.now), code=question))
        return instant

    @property
    def asked(self) -> list[str]:
        """The questions of this page that one tick answers with 'it is so', answered ones too."""
        codes = [error.code for errors in self.errors.as_data().values() for error in errors]
        asked = [code for code in codes if code and ":" in code]
        return [*asked, *sorted(self.cleaned_data.get("meant", ()))] if asked else []

    @property
    def slot(self) -> datetime | None:
        """The slot that was typed, while the page says one."""
        return getattr(self, "cleaned_data", {}).get("slot")

    @property
    def observed_at(self) -> datetime:
        """When the round was read, or now while the page does not say it."""
        return (
            getattr(self, "cleaned_data", {}).get("observed_at")
            or self.slot
            or self.initial.get("observed_at", self.now)
        )

    def observed_at_of(self, meter: Meter) -> datetime:
        groups = getattr(self, "cleaned_data", {}).get("group_observed_at", {})
        return groups.get(meter.panel_group) or self.observed_at

    def typed(self) -> dict[Meter, TypedReading]:
        """The cells that are not blank."""
        known = getattr(self, "cleaned_data", {})
        texts = {meter: known.get(f"cell-{meter.code}") or "" for meter in self.meters}
        return typed_cells(self.book, texts, self.observed_at_of)

    def draft(self) -> RoundDraft:
        data = self.cleaned_data
        return RoundDraft(
            transmitter=self.book.transmitter,
            slot=data["slot"],
            observed_at=data["observed_at"],
            modulation=data["modulation"],
            typed=self.typed(),
            kind=data["kind"],
            group_observed_at=data["group_observed_at"],
            client_key=data["client_key"],
            paper_sheet=data["paper_sheet"],
        )


class ReReadForm(forms.Form):
    """One cell for each meter that was asked about; ``take`` names those whose offer is taken.

    ``after`` is how many corrections the page showed, so that a page sent twice confirms nothing.
    """

    take = forms.MultipleChoiceField(required=False)
    after = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput())

    def __init__(self, *args: Any, offers: Mapping[Meter, str], **options: Any) -> None:
        super().__init__(*args, **options)
        self.offers = offers
        self.fields["take"].choices = [(meter.code, offer) for meter, offer in offers.items()]
        for meter in offers:
            self.fields[f"cell-{meter.code}"] = cell_field()

    def field_of(self, meter: Meter) -> forms.BoundField:
        return self[f"cell-{meter.code}"]

    def texts(self) -> dict[Meter, str]:
        """What was typed again, by meter; the offer where it was taken."""
        taken = self.cleaned_data["take"]
        texts = {
            meter: offer
            if offer and meter.code in taken
            else self.cleaned_data.get(f"cell-{meter.code}", "")
            for meter, offer in self.offers.items()
        }
        return {meter: text for meter, text in texts.items() if text}
