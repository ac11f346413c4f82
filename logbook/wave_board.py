"""What stands on the page of a change of wave beside its form, and on the settings card."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.forms import BoundField
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from logbook.dial_settings import Setting
from logbook.forms.wave import WaveForm
from logbook.wave_log import WaveLog
from station.broadcasts import Broadcast
from station.limits import LimitBook, Place
from station.models import Meter, Transmitter, Wave
from station.schedules import STARTS_AHEAD, next_starts
from station.states import Modulation, State


@dataclass(frozen=True)
class DialLine:
    """One dial, or a meter of the first readings, which has no ``found``; '' is nothing known."""

    meter: Meter
    known: str
    commissioned: str
    stands: str
    found: BoundField | None
    left: BoundField


@dataclass(frozen=True)
class Asked:
    """What the address or the page says of the wave; None or '' is not said."""

    frequency_khz: float | None
    antenna: str = ""
    coil_set: str = ""


@dataclass(frozen=True)
class Wished:
    """The wave that the page is made for, with what goes with it."""

    frequency_khz: float | None
    antenna: str
    coil_set: str
    power_kw: float


def next_start(transmitter: Transmitter, now: datetime) -> Broadcast | None:
    station = transmitter.station
    found = next_starts([transmitter], station, now, now + STARTS_AHEAD)[transmitter.pk]
    return found[0] if found else None


def wished_wave(
    transmitter: Transmitter, asked: Asked, start: Broadcast | None
) -> tuple[Wished, list[Wave]]:
    """The wave asked for, else that of the next start; and the registered waves."""
    waves = list(transmitter.waves.select_related("antenna", "coil_set"))
    khz = asked.frequency_khz
    if khz is None and start is not None:
        khz = start.line.frequency_khz
    wave = next((one for one in waves if one.frequency_khz == khz), None)
    is_of_start = start is not None and khz == start.line.frequency_khz
    antenna = start.line.antenna_id if is_of_start and start else None
    codes = {one.antenna_id: one.antenna.code for one in waves}
    return Wished(
        frequency_khz=khz,
        antenna=asked.antenna or codes.get(antenna, wave.antenna.code if wave else ""),
        coil_set=asked.coil_set or (wave.coil_set.code if wave and wave.coil_set else ""),
        power_kw=(start.line.power_kw if is_of_start and start else None)
        or transmitter.full_power_kw,
    ), waves


def setting_words(setting: Setting, meter: Meter) -> str:
    """'490 ±4 of 8 runs, last 491'."""
    facts = {"median": number(setting.median, meter), "spread": number(setting.spread, meter)}
    facts |= {"n": setting.runs, "last": number(setting.last, meter)}
    said = ngettext(
        "%(median)s ±%(spread)s of %(n)s run, last %(last)s",
        "%(median)s ±%(spread)s of %(n)s runs, last %(last)s",
        setting.runs,
    )
    words = said % facts
    return _("%s, before the tube change") % words if setting.is_before_tubes else words


def number(value: float, meter: Meter) -> str:
    return f"{value:.{meter.decimals}f}"


def known_words(log: WaveLog, wished: Wished, known: Mapping[int, Setting]) -> dict[int, str]:
    """For each dial what is known of it: its setting, else what two waves about it say."""
    words = {
        meter.pk: setting_words(known[meter.pk], meter) for meter in log.dials if meter.pk in known
    }
    coils = {one.code: one for one in log.transmitter.coil_sets.all()}
    coil_set = coils.get(wished.coil_set)
    if coil_set and wished.frequency_khz and not words:
        for one in log.neighbours(wished.frequency_khz, coil_set):
            facts = {"value": number(one.found.value, one.meter)}
            facts |= {"low": one.found.low_khz, "high": one.found.high_khz}
            said = _("about %(value)s, between %(low)g and %(high)g kHz by C ~ 1/f²")
            words[one.meter.pk] = said % facts
    return words


def commissioned_words(book: LimitBook, meter: Meter, wished: Wished) -> str:
    """The dial by the commissioning record of this wave."""
    place = Place(State.ON_AIR, wished.frequency_khz, wished.power_kw, None, Modulation.ON)
    value = book.normal(meter, place)
    return "" if value is None else number(value, meter)


def dial_lines(
    form: WaveForm, log: WaveLog, wished: Wished, words: Mapping[int, str]
) -> Iterator[DialLine]:
    """The dials, then the meters of the first readings."""
    standing = log.standing_dials()
    for meter in form.dials:
        reading = standing.get(meter.pk)
        yield DialLine(
            meter=meter,
            known=words.get(meter.pk, ""),
            commissioned=commissioned_words(form.book, meter, wished),
            stands=number(reading.value, meter) if reading else "",
            found=form[f"found-{meter.code}"],
            left=form[f"left-{meter.code}"],
        )
    for meter in form.first_read:
        yield DialLine(meter, "", "", "", None, form[f"left-{meter.code}"])


def first_values(wished: Wished, form: WaveForm, known: Mapping[int, Setting]) -> dict[str, object]:
    """What the page fills in: only what deviates is typed."""
    khz = f"{wished.frequency_khz:g}" if wished.frequency_khz else ""
    levels = sorted(form.levels, key=lambda key: abs(form.levels[key].power_kw - wished.power_kw))
    filled = {
        f"left-{meter.code}": number(known[meter.pk].median, meter)
        for meter in form.dials
        if meter.pk in known
    }
    return {
        "frequency": khz,
        "antenna": wished.antenna,
        "coil_set": wished.coil_set,
        "power": levels[0] if levels else "",
        "day": form.now.date(),
        "dials_of": khz if filled else "",
        **filled,
    }
