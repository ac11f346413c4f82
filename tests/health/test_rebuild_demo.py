"""On the demo's own log: judged entry by entry or all at once, the flags are the same."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from django.db.models import Model

from fixtures.generator import history
from fixtures.generator.faults import Fault
from fixtures.load import load
from fixtures.people import make_people
from health.assess import assess
from health.management.commands.demo import REGISTER
from health.models import (
    ChannelBaseline,
    ChannelDay,
    Episode,
    Judging,
    LearningPoint,
    SymptomMatch,
)
from logbook import port
from logbook.models import Entry, Kind
from logbook.reading_text import TypedReading
from logbook.services.rounds import RoundDraft, record_round
from logbook.services.states import StateDraft, record_state
from logbook.times import minute_of
from station.models import Meter, Person, Station, Transmitter
from station.register.take import commission
from tests.people import make_person

START, DAYS = date(2026, 2, 1), 6
LOST_PHASE = Fault("ht_phase", "T1", np.datetime64("2026-02-03T00:00"), ramp_days=0.0, size=0.15)
UNTIL = datetime(2026, 2, 7, tzinfo=UTC)
COMPARED = (
    *("transmitter_id", "rule", "meter_id", "first_no", "since_minute", "until_minute"),
    *("priority", "evidence"),
)
MATCHED = ("transmitter_id", "day", "minute", "ranked", "signs")

pytestmark = pytest.mark.django_db


@pytest.fixture
def demo() -> Station:
    """Six days of the demo, written and not judged."""
    commission(REGISTER.read_text(encoding="utf-8"), REGISTER.name, at=UNTIL)
    station = Station.objects.get()
    crew, _sign_ins = make_people(station)
    with port.silent():
        load(history(3, START, DAYS, fault=LOST_PHASE), station, crew, UNTIL, seed=3)
    return station


def flags() -> list[tuple]:
    """All flags, and what those of each day were consistent with."""
    symptoms = SymptomMatch.objects.values_list(*MATCHED)
    return sorted([*Episode.objects.values_list(*COMPARED), *symptoms], key=str)


def saved_one_by_one(by: Person, of: Transmitter, twin: Transmitter) -> None:
    """Write the log of ``of`` anew for its twin, each entry judged as it is saved."""
    meters = {meter.code: meter for meter in twin.meters.all()}
    written = Entry.objects.current().filter(transmitter=of, kind__in=[Kind.ROUND, Kind.STATE])
    for entry in written.order_by("no"):
        if entry.kind == Kind.STATE:
            record_state(state_again(entry, twin), by=by, at=entry.entered_at)
        else:
            record_round(round_again(entry, twin, meters), by=by, at=entry.entered_at)


def state_again(entry: Entry, twin: Transmitter) -> StateDraft:
    change = entry.statechange
    facts = ("state", "frequency_khz", "power_kw", "set_by", "is_retune")
    return StateDraft(twin, entry.observed_at, **{name: getattr(change, name) for name in facts})


def round_again(entry: Entry, twin: Transmitter, meters: dict[str, Meter]) -> RoundDraft:
    columns = ("value", "code", "bound", "mark", "text")
    typed = {
        meters[reading.meter.code]: TypedReading(
            **{name: getattr(reading, name) for name in columns}
        )
        for reading in entry.round.readings.current().select_related("meter")
    }
    row = entry.round
    return RoundDraft(twin, row.slot, entry.observed_at, row.modulation, typed, kind=row.kind)


def test_saves_give_what_the_rebuild_gives(demo: Station) -> None:
    text = REGISTER.read_text(encoding="utf-8").replace('"eschenmoor"', '"twin"')
    commission(text, REGISTER.name, at=UNTIL)
    twin = Transmitter.objects.get(code="T1", station__code="twin")
    by = make_person("again", "shift", station=twin.station)
    saved_one_by_one(by, Transmitter.objects.get(code="T1", station=demo), twin)
    by_saves = flags()
    assess(twin, rebuild=True)
    assert flags() == by_saves
    assert SymptomMatch.objects.filter(transmitter=twin).exists()


@pytest.mark.case("C13")
def test_wave_written_late_gives_what_the_rebuild_gives(demo: Station) -> None:
    transmitter = Transmitter.objects.get(code="T1")
    assess(transmitter)
    written = Entry.objects.filter(transmitter=transmitter, kind=Kind.STATE).select_related("by")
    entry = written.filter(statechange__frequency_khz__isnull=False).order_by("no")[3]
    late = StateDraft(transmitter, entry.observed_at, frequency_khz=6105.0, power_kw=80.0)
    record_state(late, by=entry.by, at=UNTIL)
    after_late_entry = flags()
    assess(transmitter, rebuild=True)
    assert flags() == after_late_entry


@pytest.mark.case("C13")
@pytest.mark.parametrize("days_back", [0.3, 6.4])
def test_memory_of_any_day_can_be_had_again(days_back: float) -> None:
    """Judged anew from a day on, it gives the same memory and the same flags to the last bit."""
    commission(REGISTER.read_text(encoding="utf-8"), REGISTER.name, at=UNTIL)
    station = Station.objects.get()
    crew, _sign_ins = make_people(station)
    until = UNTIL + timedelta(days=8)
    with port.silent():
        load(history(3, START, 14, ("T3",)), station, crew, until, seed=3)
    transmitter = Transmitter.objects.get(code="T3")
    assess(transmitter)
    before = flags(), *map(remembered, (ChannelDay, ChannelBaseline, LearningPoint))
    changed = minute_of(until - timedelta(days=days_back))
    Judging.objects.filter(transmitter=transmitter).update(rejudge_from=changed)
    assess(transmitter)
    assert (flags(), *map(remembered, (ChannelDay, ChannelBaseline, LearningPoint))) == before
    assert ChannelBaseline.objects.exists()


def remembered(model: type[Model]) -> list[dict]:
    """Every row but for its key."""
    rows = [
        {name: one for name, one in row.items() if name != "id"} for row in model.objects.values()
    ]
    return sorted(rows, key=str)
