"""The command that proves the log: each way of changing it behind its back is found."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from logbook import triggers
from logbook.models import Entry, Reading, Remark, Round, Signature, SignatureScope
from logbook.reading_text import read_typed
from logbook.services.corrections import correct_values, void_entry
from logbook.services.remarks import record_remark
from logbook.services.rounds import RoundDraft, record_round
from logbook.services.signatures import record_signature
from tests.benchmarks.plant import Plant, build

SLOT = datetime(2026, 3, 1, 6, tzinfo=UTC)
LATER = SLOT + timedelta(hours=2)

pytestmark = pytest.mark.django_db


@pytest.fixture
def plant() -> Plant:
    """A log of five entries: two rounds, a correction of some values, a remark, a void."""
    plant = build(1, 3)
    first, second = save_round(plant, 0), save_round(plant, 1)
    meter = plant.meters[plant.transmitters[0].pk][0]
    by = {"by": plant.by, "at": LATER}
    correct_values(first, {meter: read_typed("12.6", None)}, reason="misread", **by)
    record_remark("quiet", station=plant.station, transmitter=None, observed_at=LATER, **by)
    void_entry(second.entry, reason="wrong sheet", **by)
    return plant


def save_round(plant: Plant, hour: int, texts: tuple[str, ...] = ("12.4", "-0", "/")) -> Round:
    slot = SLOT + timedelta(hours=hour)
    transmitter = plant.transmitters[0]
    cells = [read_typed(text, None) for text in texts]
    typed = dict(zip(plant.meters[transmitter.pk], cells, strict=True))
    draft = RoundDraft(transmitter, slot, slot + timedelta(minutes=5), "on", typed)
    return record_round(draft, by=plant.by, at=slot + timedelta(minutes=6)).round


def verified(*options: str) -> dict[str, Any]:
    """What the command says as JSON; its exit status is told by raising."""
    out, status = StringIO(), 0
    try:
        call_command("verify_log", "--json", *options, stdout=out)
    except CommandError as refusal:
        status = refusal.returncode
    return {**json.loads(out.getvalue()), "exit": status}


def tamper(change: Callable[[], Any]) -> list[tuple[int, str]]:
    """The places and reasons found after ``change`` was made with the triggers lifted."""
    with triggers.lifted(connection):
        change()
    found = verified()
    assert found["exit"] == 1
    return [(one["no"], one["why"]) for one in found["stations"][0]["breaks"]]


def head() -> str:
    return bytes(Entry.objects.order_by("-no")[0].digest).hex()


class TestWhole:
    def test_untouched_log_is_good(self, plant: Plant) -> None:
        found = verified()
        assert (found["exit"], found["is_broken"], found["faults"]) == (0, False, [])
        assert (found["stations"][0]["entries"], found["stations"][0]["head"]) == (5, head())

    def test_empty_database_is_good(self) -> None:
        assert verified()["stations"] == []

    def test_plain_words_name_the_last_digest(self, plant: Plant) -> None:
        out = StringIO()
        call_command("verify_log", stdout=out)
        assert out.getvalue().strip() == f"bench: 5 entries, digest of the last {head()}"


class TestChanged:
    def test_changed_value_is_found_at_its_round(self, plant: Plant) -> None:
        changed = Reading.objects.filter(round__entry__no=1, value=12.4)
        places = tamper(lambda: changed.update(value=12.5))
        assert places == [(1, "entry 1 is not what was written")]

    def test_changed_corrected_value_is_found_at_its_correction(self, plant: Plant) -> None:
        places = tamper(lambda: Reading.objects.filter(value=12.6).update(value=12.5))
        assert [no for no, _why in places] == [3]

    def test_removed_reading_is_found(self, plant: Plant) -> None:
        places = tamper(lambda: Reading.objects.filter(round__entry__no=2, code="R").delete())
        assert [no for no, _why in places] == [2]

    def test_changed_author_is_found(self, plant: Plant) -> None:
        places = tamper(lambda: Entry.objects.filter(no=4).update(name_as_written="Nobody"))
        assert [no for no, _why in places] == [4]

    def test_changed_code_is_found(self, plant: Plant) -> None:
        places = tamper(
            lambda: Reading.objects.filter(round__entry__no=1, code="R").update(code="F")
        )
        assert [no for no, _why in places] == [1]

    @pytest.mark.parametrize("column", ["observed_at", "entered_at"])
    def test_changed_time_is_found(self, plant: Plant, column: str) -> None:
        places = tamper(lambda: Entry.objects.filter(no=2).update(**{column: SLOT}))
        assert [no for no, _why in places] == [2]

    def test_inserted_row_is_found(self, plant: Plant) -> None:
        """A remark that is slipped in at the end with a digest of its own making."""

        def insert() -> None:
            last = Entry.objects.get(no=4)
            text = last.remark.text
            last.pk, last.no = None, 6
            last.save(force_insert=True)
            Remark.objects.create(entry=last, station=plant.station, text=text)

        assert [no for no, _why in tamper(insert)] == [6]

    def test_reordered_numbers_are_found(self, plant: Plant) -> None:
        def exchange() -> None:
            first, second = Entry.objects.get(no=1).pk, Entry.objects.get(no=2).pk
            for pk, no in ((first, 99), (second, 1), (first, 2)):
                Entry.objects.filter(pk=pk).update(no=no)

        assert {1, 2} <= {no for no, _why in tamper(exchange)}

    def test_removed_signature_is_found(self, plant: Plant) -> None:
        by = {"by": plant.by, "at": LATER}
        transmitter = plant.transmitters[0]
        record_signature(
            plant.station, SignatureScope.OWN, SLOT.date(), transmitter=transmitter, **by
        )
        record_remark("after it", station=plant.station, transmitter=None, observed_at=LATER, **by)

        def remove() -> None:
            Signature.objects.all().delete()
            Entry.objects.filter(no=6).delete()

        assert (6, "entry 6 is missing") in tamper(remove)

    def test_removed_row_of_its_kind_is_found(self, plant: Plant) -> None:
        assert [no for no, _why in tamper(Remark.objects.all().delete)] == [4]

    def test_entry_removed_from_the_middle_is_found(self, plant: Plant) -> None:
        """Entry 5 was chained to entry 4, so it no longer fits either."""

        def remove() -> None:
            Remark.objects.all().delete()
            Entry.objects.filter(no=4).delete()

        places = tamper(remove)
        assert (4, "entry 4 is missing") in places
        assert (5, "entry 5 is not what was written") in places


class TestEnded:
    """``ended_by`` stands outside the digests; what may fill it is held by rules."""

    def test_entry_ended_by_no_correction_is_found(self, plant: Plant) -> None:
        remark = Entry.objects.get(no=4)
        places = tamper(lambda: Entry.objects.filter(no=1).update(ended_by=remark))
        assert (1, "entry 1 was ended by no correction of it") in places

    def test_voided_entry_that_counts_again_is_found(self, plant: Plant) -> None:
        places = tamper(lambda: Entry.objects.filter(no=2).update(ended_by=None))
        assert places == [(2, "entry 2 was corrected and counts again")]

    def test_reading_ended_by_no_correction_is_found(self, plant: Plant) -> None:
        remark = Entry.objects.get(no=4)
        counting = Reading.objects.current().filter(round__entry__no=1, code="R")
        places = tamper(lambda: counting.update(ended_by=remark))
        assert places == [(1, "a reading of entry 1 was ended by no correction of it")]

    def test_reading_of_a_void_round_that_counts_again_is_found(self, plant: Plant) -> None:
        ended = Reading.objects.filter(round__entry__no=2, code="R")
        places = tamper(lambda: ended.update(ended_by=None))
        assert places == [(2, "a reading of entry 2 counts though its round does not")]

    def test_reading_brought_by_no_correction_is_found(self, plant: Plant) -> None:
        """A slipped-in reading that names a remark stands in no entry's digest."""
        remark, found = Entry.objects.get(no=4), Reading.objects.get(value=12.6)
        found.pk, found.meter, found.brought_by = (
            None,
            plant.meters[found.meter.transmitter_id][1],
            remark,
        )
        found.ended_by = Entry.objects.get(no=3)
        places = tamper(lambda: found.save(force_insert=True))
        assert (1, "a reading of entry 1 was brought by no correction of it") in places

    def test_duplicate_round_is_good(self, plant: Plant) -> None:
        """Its readings are born ended by its own entry."""
        assert save_round(plant, 0, ("12.8", "1", "/")).duplicate_of is not None
        assert verified()["faults"] == []


class TestExpect:
    def test_printed_digest_in_the_log_is_good(self, plant: Plant) -> None:
        printed = head()
        save_round(plant, 3)
        assert verified("--expect", printed)["exit"] == 0

    def test_beginning_in_groups_is_good(self, plant: Plant) -> None:
        printed = head().upper()
        assert verified("--expect", f"{printed[:8]} {printed[8:16]}")["exit"] == 0

    def test_cut_tail_is_found_only_by_the_printed_digest(self, plant: Plant) -> None:
        save_round(plant, 3)
        printed = head()
        with triggers.lifted(connection):
            Reading.objects.filter(round__entry__no=6).delete()
            Round.objects.filter(entry__no=6).delete()
            Entry.objects.filter(no=6).delete()
        assert verified()["exit"] == 0
        found = verified("--expect", printed)
        assert found["exit"] == 1
        assert found["faults"][0].startswith(f"no entry has the digest {printed}")

    @pytest.mark.parametrize("text", ["abc", "xyz" * 10, "0" * 65])
    def test_no_digest_is_refused(self, text: str) -> None:
        with pytest.raises(CommandError, match="is no digest"):
            call_command("verify_log", "--expect", text)


class TestTriggers:
    def test_missing_trigger_is_named(self, plant: Plant) -> None:
        name = triggers.trigger_names(Entry, connection.vendor)[0]
        on = ' ON "logbook_entry"' if connection.vendor == "postgresql" else ""
        with connection.cursor() as cursor:
            cursor.execute(f'DROP TRIGGER "{name}"{on}')
        found = verified()
        assert (found["exit"], found["triggers_missing"]) == (1, [name])
        assert name in found["faults"][0]
