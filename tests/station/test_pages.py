"""The frame of every page, and the pages for what went wrong."""

from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.template.loader import render_to_string
from django.test import Client, RequestFactory
from django.urls import NoReverseMatch, reverse

from station import views
from station.models import Person
from station.statuses import LOOKS, SHAPES, look_of
from station.templatetags.station_parts import clock_text, local_text
from tests.people import signed_in


def page_text(response: Any) -> str:
    return " ".join(response.content.decode().split())


@pytest.mark.need(28)
class TestClocks:
    def test_both_clocks_are_labelled(self, shift: Person) -> None:
        with time_machine.travel("2026-07-01T12:00:00+00:00", tick=False):
            text = page_text(signed_in(shift).get("/log/"))
        assert "<dt>UTC</dt>" in text
        assert "local CEST" in text
        assert ">14:00</time>" in text

    @pytest.mark.case("C9")
    def test_repeated_hour_has_two_labels(self, shift: Person) -> None:
        """Vienna goes back from CEST to CET on 25 October 2026 at 01:00 UTC."""
        labels = []
        for hour in (0, 1):
            with time_machine.travel(f"2026-10-25T0{hour}:30:00+00:00", tick=False):
                text = page_text(signed_in(shift).get("/log/"))
            labels.append(next(label for label in ("CEST", "CET") if f"local {label}" in text))
        assert labels == ["CEST", "CET"]


class TestFrame:
    def test_person_and_navigation_stand_on_the_page(self, shift: Person) -> None:
        text = page_text(signed_in(shift).get("/log/"))
        assert "Shift Moor" in text
        assert 'aria-current="page"' in text

    def test_sign_out_is_a_post(self, shift: Person) -> None:
        client = signed_in(shift)
        assert client.get("/sign-out").status_code == 405
        assert client.post("/sign-out").headers["Location"] == "/sign-in"


class TestWhatWentWrong:
    def test_no_such_page_says_so(self, shift: Person) -> None:
        response = signed_in(shift).get("/nothing/here")
        assert response.status_code == 404
        assert "No such page" in page_text(response)

    def test_refused_page_says_whom_to_ask(self, outsider: Person) -> None:
        response = signed_in(outsider).get("/log/")
        assert response.status_code == 403
        assert "The engineer in charge gives roles" in page_text(response)

    def test_failed_page_needs_neither_person_nor_database(self) -> None:
        response = views.failed(RequestFactory().get("/"))
        assert response.status_code == 500
        assert "Something went wrong" in page_text(response)

    @pytest.mark.django_db
    def test_page_that_is_too_old_says_what_to_do(self) -> None:
        response = Client(enforce_csrf_checks=True).post("/sign-in", {"username": "x"})
        assert response.status_code == 403
        assert "The page was too old" in page_text(response)


class TestStatuses:
    @pytest.mark.parametrize("level", LOOKS)
    def test_each_has_a_shape_and_a_word(self, level: str) -> None:
        look = look_of(level)
        html = render_to_string("parts/_status.html", {"level": level, "look": look})
        assert SHAPES[look.shape] in html
        assert str(look.word) in html

    def test_one_that_nobody_drew_shows_its_name(self) -> None:
        assert look_of("half-open").word == "half open"

    def test_warning_and_alarm_differ_without_colour(self) -> None:
        pairs = [(look.shape, str(look.word)) for look in LOOKS.values()]
        assert len(set(pairs)) == len(pairs)


class TestTimes:
    def test_local_text_has_its_label_in_the_repeated_hour(self, station: Any) -> None:
        first, second = (datetime(2026, 10, 25, hour, 30, tzinfo=UTC) for hour in (0, 1))
        assert local_text(first, station.zone) == "2026-10-25 02:30 CEST"
        assert clock_text(second, station.zone) == "02:30 CET (+0100)"


class TestParts:
    def test_page_of_parts_is_for_developers_alone(self) -> None:
        with pytest.raises(NoReverseMatch):
            reverse("parts")

    @pytest.mark.django_db
    def test_every_part_is_drawn(self) -> None:
        request = RequestFactory().get("/parts")
        text = page_text(views.parts(request))
        assert text.count("<svg") == len(LOOKS)
