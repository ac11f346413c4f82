"""The pages of the engineer's review: deciding, signing the week, and where it is kept."""

from datetime import date
from typing import Any
from urllib.parse import urlencode

import pytest

from health.models import Episode
from logbook.bodies import plain_body
from logbook.models import Signature, WeekDecision
from station.models import Limit, Meter, Person, Transmitter
from tests.health.flag_plant import page
from tests.health.week_plant import (
    MISSED,
    MONDAY,
    WEDNESDAY,
    WEEK_PAGE,
    decide,
    key_of,
    make_low,
    make_power,
    on_air,
    read,
    review,
    sign,
)
from tests.people import signed_in

NOW = WEDNESDAY

pytestmark = [pytest.mark.need(51), pytest.mark.usefixtures("clock")]


@pytest.fixture
def power(transmitter: Transmitter) -> Meter:
    return make_power(transmitter)


@pytest.fixture
def plant(shift: Person, transmitter: Transmitter, power: Meter) -> Transmitter:
    """Two rounds are asked for on Monday."""
    return on_air(shift, transmitter)


@pytest.fixture
def low(plant: Transmitter, shift: Person) -> Episode:
    return make_low(shift, plant)


class TestDecidePage:
    def post(self, by: Person, *keys: str, **form: str) -> Any:
        asked = urlencode([("key", key) for key in keys])
        return signed_in(by).post(f"/week/2026-03-02/decide?{asked}", form)

    def test_it_is_written_with_the_words_that_were_shown(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        answer = self.post(engineer, MISSED, decision="watch", look_again="2026-03-16")
        assert answer["Location"] == "/week/2026-03-02#decisions"
        row = WeekDecision.objects.get()
        assert (row.key, row.words) == (MISSED, "2 rounds missed on 2026-03-02")
        assert (row.week, row.look_again, row.measure) == (MONDAY.date(), date(2026, 3, 16), 2.0)
        assert (row.entry.transmitter, row.entry.by) == (plant, engineer)

    @pytest.mark.parametrize(
        ("form", "sentence"),
        [
            ({}, "Choose what is decided."),
            ({"decision": "sell"}, "Choose one of the four."),
            ({"decision": "plan-work"}, "Write what is to be done, and by when."),
            ({"decision": "change-limit"}, "Write why the limit is changed"),
            ({"decision": "watch", "look_again": "2026-03-04"}, "That day has come"),
            ({"decision": "watch", "look_again": "soon"}, "Write the day as year-month-day"),
        ],
    )
    def test_faults_stand_at_their_field_and_nothing_is_written(
        self, plant: Transmitter, engineer: Person, form: dict[str, str], sentence: str
    ) -> None:
        answer = self.post(engineer, MISSED, **form)
        assert sentence in answer.content.decode()
        assert 'class="problem"' in answer.content.decode()
        assert not WeekDecision.objects.exists()

    @pytest.mark.parametrize("role", ["shift", "viewer"])
    def test_only_the_engineer_decides(self, plant: Transmitter, role: str, request: Any) -> None:
        person = request.getfixturevalue(role)
        answer = self.post(person, MISSED, decision="watch")
        assert answer.status_code == 403
        assert "/decide" not in page(person, WEEK_PAGE)
        assert not WeekDecision.objects.exists()

    @pytest.mark.parametrize("day", ["2026-03-03", "never"])
    def test_of_no_monday_there_is_no_week(
        self, plant: Transmitter, engineer: Person, day: str
    ) -> None:
        client = signed_in(engineer)
        assert client.get(f"/week/{day}/decide?key={MISSED}").status_code == 404
        assert client.post(f"/week/{day}/sign").status_code == 404

    def test_changed_limit_leads_on_with_its_reason(
        self, low: Episode, engineer: Person, power: Meter
    ) -> None:
        answer = self.post(engineer, key_of(low), decision="change-limit", reason="new tube")
        text = page(engineer, answer["Location"])
        address = f"/admin/station/limit/{Limit.objects.get().pk}/change/?reason=new+tube"
        assert f'href="{address}"' in text
        assert 'value="new tube"' in page(engineer, address)
        added = f"/admin/station/limit/add/?meter={power.pk}&amp;reason=new+tube"
        assert f'href="{added}"' in text
        assert 'value="new tube"' in page(engineer, added.replace("&amp;", "&"))

    def test_lines_of_one_cost_are_decided_together(
        self, plant: Transmitter, engineer: Person, shift: Person
    ) -> None:
        """A missed round and a value to be re-read: each has its own entry, in one save."""
        read(shift, plant, 10, "abc")
        (group,) = review(plant.station).groups
        address = f"{WEEK_PAGE}/decide?{group.asked.replace('&', '&amp;')}"
        assert address in page(engineer, WEEK_PAGE)
        keys = [line.item.key for line in group.lines]
        self.post(engineer, *keys, decision="watch")
        assert [row.key for row in WeekDecision.objects.order_by("entry__no")] == keys
        assert set(keys) == {MISSED, "to-re-read/T1/2026-03-02"}

    def test_key_of_nothing_on_the_list_is_not_found(
        self, plant: Transmitter, engineer: Person, stranger: Person
    ) -> None:
        for person, keys in ((stranger, [MISSED]), (engineer, [MISSED, "x"])):
            assert self.post(person, *keys, decision="watch").status_code == 404
        assert not WeekDecision.objects.exists()

    def test_asked_for_nothing_the_list_is_shown(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        assert self.post(engineer, decision="watch")["Location"] == "/week/2026-03-02"

    def test_list_shows_what_was_decided_and_by_whom(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        self.post(engineer, MISSED, decision="plan-work", reason="talk to the shift by Friday")
        text = page(engineer, WEEK_PAGE)
        assert "plan work, talk to the shift by Friday" in text
        assert engineer.written_name in text
        assert "carried" in text


class TestSigned:
    def test_with_nothing_open_it_signs_at_once(self, plant: Transmitter, engineer: Person) -> None:
        decide(engineer, MISSED, measure=2.0)
        signed_in(engineer).post(f"{WEEK_PAGE}/sign")
        row = Signature.objects.get()
        assert (row.scope, row.entry.transmitter, row.left_open) == ("week", None, [])
        assert row.up_to_no == WeekDecision.objects.get().entry.no

    def test_with_something_open_it_asks_and_never_refuses(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        answer = signed_in(engineer).post(f"{WEEK_PAGE}/sign")
        text = answer.content.decode()
        assert "1 item is not decided: sign the week with it open?" in text
        assert "2 rounds missed on 2026-03-02" in text
        assert not Signature.objects.exists()
        sign(engineer, 1)
        assert Signature.objects.get().left_open == [
            {
                "key": MISSED,
                "code": "T1",
                "words": "2 rounds missed on 2026-03-02",
                "since": "2026-03-02",
                "state": "open",
            }
        ]

    def test_answer_fits_the_number_that_was_shown(self, low: Episode, engineer: Person) -> None:
        """Signed with two open on the page, one is: it is asked anew."""
        sign(engineer, 2)
        assert not Signature.objects.exists()

    def test_signed_week_shows_what_was_open_then(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        sign(engineer, 1)
        decide(engineer, MISSED, measure=2.0)
        assert "Open when it was signed:" in page(engineer, WEEK_PAGE)
        no = Signature.objects.get().entry.no
        assert "1 item left open" in page(engineer, f"/log/entry/{no}")

    def test_decision_after_it_is_shown_as_such_and_can_be_signed(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        sign(engineer, 1)
        assert "after review" not in page(engineer, WEEK_PAGE)
        assert "Sign the week" not in page(engineer, WEEK_PAGE)
        decide(engineer, MISSED, measure=2.0)
        assert "after review" in page(engineer, WEEK_PAGE)
        assert "Sign the week" in page(engineer, WEEK_PAGE)
        signed_in(engineer).post(f"{WEEK_PAGE}/sign")
        assert "after review" not in page(engineer, WEEK_PAGE)

    def test_shift_does_not_sign(self, plant: Transmitter, shift: Person) -> None:
        assert signed_in(shift).post(f"{WEEK_PAGE}/sign").status_code == 403
        assert not Signature.objects.exists()

    @pytest.mark.need(54)
    def test_signature_that_left_nothing_to_say_says_what_it_always_did(
        self, plant: Transmitter, shift: Person
    ) -> None:
        signed_in(shift).post("/log/T1/day/2026-03-02/sign")
        body = plain_body(Signature.objects.get())
        assert list(body) == ["scope", "day", "up_to_no", "digest"]


@pytest.mark.need(54)
class TestKept:
    def test_entry_page_and_inspectors_copy_say_it_whole(
        self, plant: Transmitter, engineer: Person
    ) -> None:
        row = decide(engineer, MISSED, "plan-work", reason="fan", look_again=date(2026, 3, 16))
        sentence = "as shown: plan work, fan; looked at again on 2026-03-16"
        assert sentence in page(engineer, f"/log/entry/{row.entry.no}")
        assert sentence in page(engineer, "/log/copy?since=2026-03-04&until=2026-03-04")

    def test_export_of_all_entries_has_it(self, plant: Transmitter, engineer: Person) -> None:
        decide(engineer, MISSED, "re-read")
        span = "since=2026-03-04&until=2026-03-04&table=entries&transmitter="
        answer = signed_in(engineer).get(f"/log/export?{span}")
        assert "as shown: re-read" in b"".join(answer).decode()
