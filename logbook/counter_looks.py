"""What deserves a second look in an hour counter's reading: it cannot be true, or stands still."""

from collections.abc import Mapping, Sequence

import numpy as np
from django.utils.translation import gettext as _

from logbook.counters import Gain, Running, counter_with, frozen_after, gain_between
from logbook.frames import stated_states
from logbook.hour_book import UP, running_in
from logbook.models import Reading, Round
from logbook.models.round import Mark
from logbook.queries import newest_numbers
from logbook.reading_words import number_text
from logbook.second_looks import Cell, SecondLook
from logbook.times import hours_of, instant_of, minute_of
from station.models.meter import Counts


def counter_looks(row: Round, cells: Sequence[Cell]) -> list[SecondLook]:
    """The questions about the hour counters among a round's cells."""
    counted = [cell for cell in cells if cell.meter.counts and is_asked(cell)]
    if not counted:
        return []
    at = row.entry.observed_at
    before = newest_numbers([cell.meter.pk for cell in counted], minute_of(at))
    running = running_since(row, before) if before else {}
    looks = [
        counter_look(cell, before[cell.meter.pk], hours_of(at), running[cell.meter.counts])
        for cell in counted
        if cell.meter.pk in before
    ]
    return [look for look in looks if look]


def is_asked(cell: Cell) -> bool:
    """A number that nobody stood by yet."""
    return cell.reading.value is not None and cell.reading.mark != Mark.CONFIRMED


def running_since(row: Round, before: Mapping[int, Reading]) -> dict[str, Running]:
    """When filaments and HT were up since the oldest of the readings before, by the state log."""
    key, at = row.entry.transmitter_id, row.entry.observed_at
    since = instant_of(min(reading.minute for reading in before.values()))
    instants, states = stated_states([key], since, at)[key]
    return {
        counts: running_in(instants, np.isin(states, list(UP[counts])), hours_of(at))
        for counts in Counts
    }


def counter_look(cell: Cell, before: Reading, at: float, running: Running) -> SecondLook | None:
    if cell.instrument is None or cell.instrument.valid_from > instant_of(before.minute):
        return None  # another counter than the one that was read before
    counter = counter_with(cell.instrument.full_scale, cell.instrument.step)
    since, now = before.minute / 60, cell.reading.value
    kind, gain = gain_between(at - since, before.value, now, counter)
    ran = float(np.diff(running.hours([since, at]))[0])
    sentence = ""
    if kind in {Gain.TOO_MUCH, Gain.BACKWARDS}:
        sentence = cannot_be(kind)
    elif gain == 0 and ran > frozen_after(counter):
        sentence = _(
            "It read %(before)s %(elapsed).1f h before, and by the state log it should have "
            "counted %(ran).1f h since. If it stands still, write 'meter faulty': the hours are "
            "estimated from the state log meanwhile."
        )
    if not sentence:
        return None
    shown = number_text(before.value, cell.meter.decimals)
    facts = {"before": shown, "elapsed": at - since, "ran": ran, "gain": now - before.value}
    return SecondLook("doubtful", sentence % facts, cell.meter)


def cannot_be(kind: Gain) -> str:
    if kind == Gain.TOO_MUCH:
        return _(
            "It read %(before)s %(elapsed).1f h before: a gain of %(gain).1f h is more than the "
            "clock's. Read again; if it stands, write the change of the counter. Until then the "
            "hours are estimated from the state log."
        )
    return _(
        "It read %(before)s %(elapsed).1f h before, so it went backwards, and that is no turn "
        "through zero. Read again; if it stands, write the change of the counter. Until then "
        "the hours are estimated from the state log."
    )
