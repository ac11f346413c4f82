"""Bulk writing against the save one by one: same numbers, digests and rows."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import transaction

from logbook.bodies import stored_bodies
from logbook.inserts import ReadingRow
from logbook.ledger import verify
from logbook.models import Entry, Reading, Round, Source, StateChange
from logbook.reading_text import read_typed
from logbook.services.bulk import CHUNK, Past, past_round, past_state, write_past
from logbook.services.rounds import RoundDraft, record_round
from logbook.services.states import StateDraft, record_state
from logbook.times import minute_of
from tests.benchmarks.plant import Plant, build

SLOT = datetime(2026, 3, 1, 6, tzinfo=UTC)
READ_AT = SLOT + timedelta(minutes=4, seconds=30)
SAVED_AT = SLOT + timedelta(minutes=6, microseconds=250_001)
TYPED = ("12.4", "40+", "/")

pytestmark = pytest.mark.django_db


@pytest.fixture
def plant() -> Plant:
    return build(2, 3)


def a_round(plant: Plant, hour: int = 0, **over: Any) -> Past:
    """The first transmitter's round as it was typed, some hours later."""
    transmitter = plant.transmitters[0]
    cells = [read_typed(text, None) for text in TYPED]
    later = timedelta(hours=hour)
    readings = [
        ReadingRow(meter, minute_of(READ_AT + later), **cell.columns())
        for meter, cell in zip(plant.meters[transmitter.pk], cells, strict=True)
    ]
    told = {"slot": SLOT + later, "observed_at": READ_AT + later, "at": SAVED_AT + later}
    return past_round(
        transmitter,
        readings,
        **{**told, "modulation": "on", "by": plant.by, "source": Source.PERSON, **over},
    )


def a_change(plant: Plant, minutes: int = 0) -> StateDraft:
    at = SLOT + timedelta(minutes=minutes)
    return StateDraft(
        plant.transmitters[1], at, state="on_air", frequency_khz=6105.0, is_retune=True
    )


def recorded_round(plant: Plant) -> Round:
    transmitter = plant.transmitters[0]
    typed = {
        meter: read_typed(text, None)
        for meter, text in zip(plant.meters[transmitter.pk], TYPED, strict=True)
    }
    draft = RoundDraft(transmitter, SLOT, READ_AT, "on", typed)
    return record_round(draft, by=plant.by, at=SAVED_AT).round


def undone(write: Callable[[], Any]) -> dict[str, Any]:
    """What ``write`` puts into the log, taken back afterwards: entry, child and readings."""
    with transaction.atomic():
        write()
        found = {model.__name__: plain_rows(model) for model in (Entry, Round, StateChange)}
        found["Reading"] = plain_rows(Reading, "id")
        transaction.set_rollback(True)
    return found


def plain_rows(model: Any, *left_out: str) -> list[dict[str, Any]]:
    """All rows as columns, without keys that differ from one writing to the next."""
    keys = {"id", "entry_id", "round_id", *left_out}
    return [
        {name: value for name, value in row.items() if name not in keys}
        for row in model.objects.order_by("pk").values()
    ]


def breaks(plant: Plant) -> list[str]:
    return [found.why for found in verify(plant.station, stored_bodies(plant.station))]


def many(plant: Plant, count: int) -> Iterator[Past]:
    for hour in range(count):
        yield a_round(plant, hour)


class TestSameAsOneByOne:
    def test_round_gives_the_rows_and_digest_of_a_recorded_one(self, plant: Plant) -> None:
        in_bulk = undone(lambda: write_past(plant.station, [a_round(plant)]))
        assert in_bulk == undone(lambda: recorded_round(plant))

    def test_state_gives_the_rows_and_digest_of_a_recorded_one(self, plant: Plant) -> None:
        past = past_state(a_change(plant), by=plant.by, at=SAVED_AT, source=Source.PERSON)
        in_bulk = undone(lambda: write_past(plant.station, [past]))
        one_by_one = undone(lambda: record_state(a_change(plant), by=plant.by, at=SAVED_AT))
        assert in_bulk == one_by_one

    def test_number_codes_and_bounds_come_back_as_typed(self, plant: Plant) -> None:
        """12.4 is a number, 40+ off scale above 40, / not running."""
        write_past(plant.station, [a_round(plant)])
        readings = Reading.objects.order_by("meter_id").values_list("value", "bound", "code")
        assert list(readings) == [(12.4, "", ""), (40.0, ">", ""), (None, "", "R")]


class TestChain:
    def test_rounds_and_states_verify_clean(self, plant: Plant) -> None:
        change = past_state(a_change(plant), by=plant.by, at=SAVED_AT)
        write_past(plant.station, [a_round(plant), change, a_round(plant, 1)])
        assert breaks(plant) == []

    def test_numbers_follow_what_stood_before(self, plant: Plant) -> None:
        recorded_round(plant)
        write_past(plant.station, [a_round(plant, 1), a_round(plant, 2)])
        assert list(Entry.objects.order_by("no").values_list("no", flat=True)) == [1, 2, 3]
        assert breaks(plant) == []

    def test_next_save_follows_the_last(self, plant: Plant) -> None:
        """The allotted ids are past the sequence: a save one by one finds a free one."""
        write_past(plant.station, [a_round(plant, 1), a_round(plant, 2)])
        assert recorded_round(plant).entry.no == 3
        assert breaks(plant) == []

    def test_more_than_a_chunk_stays_gapless(self, plant: Plant) -> None:
        write_past(plant.station, many(plant, CHUNK + 1))
        assert list(Entry.objects.order_by("no").values_list("no", flat=True)) == list(
            range(1, CHUNK + 2)
        )
        assert breaks(plant) == []

    def test_source_is_kept(self, plant: Plant) -> None:
        write_past(plant.station, [a_round(plant, source=Source.IMPORT)])
        assert Entry.objects.get().source == Source.IMPORT


class TestWritePast:
    def test_progress_is_told_after_each_chunk(self, plant: Plant) -> None:
        told: list[int] = []
        written = write_past(plant.station, many(plant, CHUNK + 3), progress=told.append)
        assert (written, told) == (CHUNK + 3, [CHUNK, CHUNK + 3])

    def test_failure_half_way_writes_nothing(self, plant: Plant) -> None:
        def broken() -> Iterator[Past]:
            yield from many(plant, CHUNK)
            raise ValueError("the file ends here")

        with pytest.raises(ValueError, match="ends here"):
            write_past(plant.station, broken())
        assert not Entry.objects.exists()

    def test_nothing_to_write_writes_nothing(self, plant: Plant) -> None:
        assert write_past(plant.station, []) == 0
