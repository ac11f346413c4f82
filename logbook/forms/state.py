"""The form of a change of state, wave, antenna, coil set or power; blank means unchanged."""

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.forms.fields import (
    ClockField,
    DayField,
    KeyField,
    MeantField,
    future_sentence,
    is_future,
)
from logbook.points import OperatingPoint
from logbook.services.states import StateDraft
from logbook.state_guards import Wished, guards
from logbook.state_questions import (
    Question,
    antenna_question,
    frequency_question,
    move_question,
    power_question,
    steps_between,
)
from station.models import Antenna, Transmitter
from station.states import USUAL_MOVES, PowerSetBy, State

UNCHANGED = gettext_lazy("unchanged")
POSITIVE = re.compile(r"(\d{1,9}(?:[.,]\d{1,6})?)\s*([a-zA-Z]*)", re.ASCII)


class MeasureField(forms.CharField):
    """A positive number as typed, with a comma or a point, its unit allowed and no other."""

    def __init__(self, unit: str, **options: Any) -> None:
        self.unit = unit
        attributes = {"size": 10, "inputmode": "decimal", "autocomplete": "off"}
        super().__init__(
            max_length=40, required=False, widget=forms.TextInput(attrs=attributes), **options
        )

    def clean(self, value: Any) -> float | None:
        typed = super().clean(value)
        if not typed:
            return None
        match = POSITIVE.fullmatch(typed)
        is_wrong_unit = match and match[2].casefold() not in {"", self.unit.casefold()}
        if not match or is_wrong_unit or float(match[1].replace(",", ".")) == 0:
            sentence = _("'%(typed)s' is not a number of %(unit)s: write digits, such as %(such)s.")
            such = "6105" if self.unit == "kHz" else "200"
            raise ValidationError(sentence % {"typed": typed, "unit": self.unit, "such": such})
        return float(match[1].replace(",", "."))


class StateForm(forms.Form):
    state = forms.ChoiceField(label=gettext_lazy("State"), required=False, widget=forms.RadioSelect)
    frequency = MeasureField("kHz", label=gettext_lazy("Wave, kHz"))
    antenna = forms.ChoiceField(label=gettext_lazy("Antenna"), required=False)
    coil_set = forms.ChoiceField(label=gettext_lazy("Coil set"), required=False)
    power = MeasureField("kW", label=gettext_lazy("Power, kW"))
    set_by = forms.ChoiceField(
        label=gettext_lazy("Power set by"),
        required=False,
        choices=[("", UNCHANGED), *PowerSetBy.choices],
    )
    is_retune = forms.BooleanField(label=gettext_lazy("Retuned on the same wave"), required=False)
    day = DayField(label=gettext_lazy("Day, UTC"))
    observed = ClockField(label=gettext_lazy("Time, UTC"))
    reason = forms.CharField(label=gettext_lazy("Reason"), required=False, max_length=200)
    is_estimating = forms.BooleanField(
        label=gettext_lazy("Write the missing steps as estimated"), required=False
    )
    meant = MeantField()
    back = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput())
    client_key = KeyField()

    def __init__(
        self,
        data: Any = None,
        *,
        transmitter: Transmitter,
        now: datetime,
        stands: Callable[[datetime], OperatingPoint],
        **options: Any,
    ) -> None:
        super().__init__(with_offer_taken(data), **options)
        self.transmitter, self.now, self.stands = transmitter, now, stands
        self.questions: list[Question] = []
        self.steps_missing: list[str] = []
        self.point = stands(now)
        self.antennas = {
            antenna.code: antenna for antenna in Antenna.objects.filter(station=transmitter.station)
        }
        self.coil_sets = {coil_set.code: coil_set for coil_set in transmitter.coil_sets.all()}
        self.waves = {
            wave.frequency_khz: wave
            for wave in transmitter.waves.select_related("coil_set", "antenna")
        }
        self.levels = list(transmitter.power_levels.all())
        self.fields["antenna"].choices = [("", UNCHANGED), *((one, one) for one in self.antennas)]
        self.fields["coil_set"].choices = [("", UNCHANGED), *((one, one) for one in self.coil_sets)]
        self.fields["state"].choices = state_choices(self.point.state)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("day") and data.get("observed"):
            data["observed_at"] = datetime.combine(data["day"], data["observed"], UTC)
            self.point = self.stands(data["observed_at"])
            self.steps_missing = steps_between(self.point.state, data.get("state", ""))
            self.ask()
            if not self.errors and not self.changes() and not data["is_retune"]:
                raise ValidationError(_("Nothing differs from what stands: nothing was saved."))
        return data

    def ask(self) -> None:
        """Every question that was not answered with 'it is so', at its field."""
        meant = self.cleaned_data.get("meant", frozenset())
        self.questions = [one for one in self.all_questions() if one]
        for question in self.questions:
            if question.name not in meant:
                self.add_error(question.field, ValidationError(question.sentence))
            elif question.needs_reason and not self.cleaned_data.get("reason"):
                self.add_error("reason", _("Say why it is so: the log keeps the reason."))

    def all_questions(self) -> list[Question | None]:
        data, observed_at = self.cleaned_data, self.cleaned_data["observed_at"]
        khz, power = data.get("frequency"), data.get("power")
        wave = frequency_question(khz, self.waves) if khz else None
        antenna = self.antennas.get(data.get("antenna") or self.point.antenna)
        is_routed = bool(khz or data.get("antenna")) and not (wave and wave.offer)
        name = f"future:{observed_at:%Y%m%dT%H%M}"
        future = Question(name, "observed", future_sentence(observed_at, self.now))
        return [
            future if is_future(observed_at, self.now) else None,
            move_question(self.point.state, data.get("state", "")),
            wave,
            antenna_question(antenna, khz or self.point.frequency_khz) if is_routed else None,
            power_question(power, self.transmitter.full_power_kw) if power else None,
            *(self.guard_questions(wave) if self.changes() else ()),
        ]

    def guard_questions(self, wave: Question | None) -> Iterator[Question]:
        """How it would stand after the change; a wave that looks like a slip is asked first."""
        data, point = self.cleaned_data, self.point
        if wave and wave.offer:
            return
        yield from guards(
            Wished(
                transmitter=self.transmitter,
                at=data["observed_at"],
                state=data.get("state") or point.state,
                frequency_khz=data.get("frequency") or point.frequency_khz,
                antenna=self.antennas.get(data.get("antenna") or point.antenna),
                power_kw=data.get("power") or point.power_kw,
            )
        )

    @property
    def names_asked(self) -> str:
        return " ".join(question.name for question in self.questions)

    @property
    def offers(self) -> list[str]:
        return [question.offer for question in self.questions if question.offer]

    def changes(self) -> dict[str, Any]:
        """The columns that differ from what stood at the time; the coil set goes with the wave."""
        data, point = self.cleaned_data, self.point
        wave = self.waves.get(data.get("frequency"))
        coil = data.get("coil_set") or (wave.coil_set.code if wave and wave.coil_set else "")
        stated = {
            "state": (data.get("state"), point.state),
            "frequency_khz": (data.get("frequency"), point.frequency_khz),
            "antenna": (data.get("antenna"), point.antenna),
            "coil_set": (coil, point.coil_set),
            "power_kw": (data.get("power"), point.power_kw),
            "set_by": (data.get("set_by") or self.usual_setting(), point.set_by),
        }
        differing = {name: now for name, (now, stood) in stated.items() if now and now != stood}
        rows = {"antenna": self.antennas, "coil_set": self.coil_sets}
        return {
            name: rows[name][value] if name in rows else value for name, value in differing.items()
        }

    def usual_setting(self) -> str:
        """How the typed power is set, where the register knows one way only."""
        power = self.cleaned_data.get("power")
        ways = {level.set_by for level in self.levels if level.power_kw == power}
        return ways.pop() if len(ways) == 1 else ""

    def drafts(self) -> list[StateDraft]:
        """What to write, in order: the missing steps as estimated if wished, then the change."""
        data = self.cleaned_data
        common = {"transmitter": self.transmitter, "observed_at": data["observed_at"]}
        steps = self.steps_missing if data["is_estimating"] else []
        key = data["client_key"]
        estimated = [
            StateDraft(
                **common,
                state=state,
                is_estimated=True,
                reason=data["reason"],
                client_key=f"{key}-{number}" if key else "",
            )
            for number, state in enumerate(steps)
        ]
        change = StateDraft(
            **common,
            **self.changes(),
            is_retune=data["is_retune"],
            reason=data["reason"],
            client_key=key,
        )
        return [*estimated, change]


def with_offer_taken(data: Any) -> Any:
    """What was typed, with the offered frequency in its place where that was chosen."""
    if data is None or not data.get("take"):
        return data
    taken = data.copy()
    taken["frequency"] = data.get("take")
    return taken


def state_choices(before: str) -> list[tuple[str, Any]]:
    """Unchanged, then the usual next states, then all others."""
    usual = USUAL_MOVES.get(before, frozenset())
    first = [choice for choice in State.choices if choice[0] in usual]
    others = [choice for choice in State.choices if choice[0] not in usual]
    return [("", UNCHANGED), *first, *others]
