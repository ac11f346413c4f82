"""The form of a change of wave: three stamps, the dials, the first readings."""

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.forms.fields import ClockField, DayField, KeyField, is_future
from logbook.forms.questions import QuestionForm, future_question, utc_instant
from logbook.forms.round import cell_field, typed_cells
from logbook.forms.state import MeasureField
from logbook.models import RoundKind
from logbook.points import OperatingPoint
from logbook.reading_text import TypedReading
from logbook.services.rounds import RoundDraft
from logbook.services.states import StateDraft
from logbook.services.waves import WaveDraft
from logbook.slots import nearest
from logbook.state_guards import Wished, guards
from logbook.state_questions import Question, antenna_question, frequency_question
from logbook.times import MINUTE
from station.limits import LimitBook
from station.models import Antenna, Meter
from station.quantities import DIALS
from station.states import State

FIRST_READ = ("forward_power", "reflected_power", "anode_current")


class StampField(ClockField):
    """A UTC clock time with its seconds; the page's large button stamps it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.widget.format = "%H:%M:%S"
        self.widget.attrs["size"] = 8


class WaveForm(QuestionForm):
    """``found-CODE`` and ``left-CODE`` are the cells of the dials, as the round's cells are."""

    frequency = MeasureField("kHz", label=gettext_lazy("Wave, kHz"))
    antenna = forms.ChoiceField(label=gettext_lazy("Antenna"))
    coil_set = forms.ChoiceField(label=gettext_lazy("Coil set"), required=False)
    power = forms.ChoiceField(label=gettext_lazy("Power"))
    day = DayField(label=gettext_lazy("Day on which RF came on, UTC"))
    ht_off = StampField(label=gettext_lazy("HT off"), required=False)
    rf_on = StampField(label=gettext_lazy("RF on"))
    full_power = StampField(label=gettext_lazy("Full power"), required=False)
    note = forms.CharField(label=gettext_lazy("Reason or note"), required=False, max_length=200)
    dials_of = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput())
    client_key = KeyField()

    def __init__(
        self,
        *args: Any,
        book: LimitBook,
        stands: Callable[[datetime], OperatingPoint],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.book, self.stands, self.transmitter = book, stands, book.transmitter
        self.fields["frequency"].required = True
        self.fields["rf_on"].error_messages["required"] = _("When did RF come on? Stamp it.")
        self.levels = {
            f"{level.power_kw:g}/{level.set_by}": level
            for level in self.transmitter.power_levels.order_by("-power_kw")
        }
        self.antennas = {
            one.code: one for one in Antenna.objects.filter(station=self.transmitter.station_id)
        }
        self.coil_sets = {one.code: one for one in self.transmitter.coil_sets.all()}
        self.fields["power"].choices = [
            (key, f"{level}, {level.get_set_by_display()}") for key, level in self.levels.items()
        ]
        self.fields["antenna"].choices = [(code, code) for code in self.antennas]
        self.fields["coil_set"].choices = [("", _("none")), *((one, one) for one in self.coil_sets)]
        self.dials = [meter for meter in book.meters if meter.quantity in DIALS]
        self.first_read = [meter for meter in book.meters if meter.quantity in FIRST_READ]
        for meter in self.dials:
            self.fields[f"found-{meter.code}"] = cell_field()
        for meter in (*self.dials, *self.first_read):
            self.fields[f"left-{meter.code}"] = cell_field()

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not data.get("day") or not data.get("rf_on"):
            return data
        began = data["rf_on_at"] = utc_instant(data["day"], data["rf_on"])
        for name in ("ht_off", "full_power"):
            data[f"{name}_at"] = nearest(began, data[name]) if data.get(name) else None
        if data["ht_off_at"] and data["ht_off_at"] > began:
            self.add_error("ht_off", _("HT went off before RF came on: one of the two is wrong."))
        if data["full_power_at"] and data["full_power_at"] < began:
            self.add_error("full_power", _("Full power came after RF on: one of the two is wrong."))
        if not self.errors:
            self.ask_why(self.questions())
        return data

    def questions(self) -> Iterator[Question]:
        data = self.cleaned_data
        khz, antenna = data["frequency"], self.antennas[data["antenna"]]
        last = data["full_power_at"] or data["rf_on_at"]
        if is_future(last, self.now):
            yield future_question(last, self.now, "rf_on")
        waves = [wave.frequency_khz for wave in self.transmitter.waves.all()]
        slip = frequency_question(khz, waves)
        if slip:
            yield slip
            if slip.offer:
                return
        unsuited = antenna_question(antenna, khz)
        if unsuited:
            yield unsuited
        yield from self.other_dials(khz)
        yield from guards(
            Wished(
                transmitter=self.transmitter,
                at=data["rf_on_at"],
                state=State.ON_AIR,
                frequency_khz=khz,
                antenna=antenna,
                power_kw=self.levels[data["power"]].power_kw,
            )
        )

    def other_dials(self, khz: float) -> Iterator[Question]:
        """The page filled the dials in for a wave; another one was typed afterwards."""
        shown = self.cleaned_data["dials_of"]
        if shown and shown != f"{khz:g}":
            sentence = _("The dials were filled in for %(shown)s kHz, not for %(khz)g kHz.")
            name = f"dials:{shown}:{khz:g}"
            yield Question(name, "frequency", sentence % {"shown": shown, "khz": khz})

    def draft(self, references: Mapping[int, float]) -> WaveDraft:
        """``references`` are the best-known settings by meter, from which deviations are told."""
        data, level = self.cleaned_data, self.levels[self.cleaned_data["power"]]
        began_at, full_at = data["rf_on_at"], data["full_power_at"]
        is_full = level.power_kw >= self.transmitter.full_power_kw
        at_power = {
            "state": State.ON_AIR if is_full else State.REDUCED,
            "power_kw": level.power_kw,
            "set_by": level.set_by,
        }
        left = self.typed("left", began_at)
        began = StateDraft(
            self.transmitter,
            began_at,
            frequency_khz=data["frequency"],
            antenna=self.antennas[data["antenna"]],
            coil_set=self.coil_sets.get(data["coil_set"]),
            is_retune=True,
            reason=data["note"],
            **({"state": State.REDUCED} if full_at else at_power),
        )
        return WaveDraft(
            began=began,
            from_khz=self.stands((data["ht_off_at"] or began_at) - MINUTE).frequency_khz,
            ht_off_at=data["ht_off_at"],
            at_full=StateDraft(self.transmitter, full_at, **at_power) if full_at else None,
            as_found=self.round(RoundKind.AS_FOUND, data["ht_off_at"] or began_at, "found"),
            as_left=self.round(RoundKind.AS_LEFT, full_at or began_at, "left"),
            deviations=self.deviations(left, references),
            note=data["note"],
            client_key=data["client_key"],
        )

    def typed(self, column: str, at: datetime) -> dict[Meter, TypedReading]:
        meters = self.dials if column == "found" else [*self.dials, *self.first_read]
        texts = {meter: self.cleaned_data[f"{column}-{meter.code}"] for meter in meters}
        return typed_cells(self.book, texts, lambda _meter: at)

    def round(self, kind: str, at: datetime, column: str) -> RoundDraft | None:
        typed = self.typed(column, at)
        if not typed:
            return None
        return RoundDraft(
            transmitter=self.transmitter,
            slot=at.replace(second=0),
            observed_at=at,
            modulation=self.transmitter.default_modulation,
            typed=typed,
            kind=kind,
        )

    def deviations(
        self, left: Mapping[Meter, TypedReading], references: Mapping[int, float]
    ) -> str:
        """'anode-tune dial +6 div, coupling dial -2 div'; '' where every dial is as known."""
        parts = []
        for meter, cell in left.items():
            known = references.get(meter.pk)
            if known is None or cell.value is None:
                continue
            apart = round(cell.value - known, meter.decimals)
            if apart:
                parts.append(f"{meter.label} {apart:+g} {meter.unit}")
        return _(", ").join(parts)[:300]
