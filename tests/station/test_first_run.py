"""From an empty database to the first round, for whoever sits at the machine's own console."""

from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from station.first_run import setup_code
from station.models import Person, Station
from tests.make import make_station
from tests.people import make_person

REGISTER = (Path(__file__).parents[2] / "fixtures" / "demo_station.toml").read_bytes()
FORM = {
    "username": "tauber",
    "first_name": "Mirela",
    "last_name": "Tauber",
    "password": "three blue kettles",
    "again": "three blue kettles",
}

pytestmark = pytest.mark.django_db


def started(client: Client | None = None, register: bytes | None = REGISTER, **over: str) -> Any:
    files = (
        {"register": SimpleUploadedFile("station.toml", register)} if register is not None else {}
    )
    form = {**FORM, "code": setup_code(), **over, **files}
    return (client or Client()).post("/start", form)


class TestEmpty:
    @pytest.mark.parametrize("where", ["/", "/log/", "/sign-in", "/admin/"])
    def test_every_page_leads_to_the_start(self, where: str) -> None:
        answer = Client().get(where, follow=True)
        assert "The first start" in answer.content.decode()

    def test_register_and_person_are_there_and_the_first_round_is_next(self) -> None:
        client = Client()
        answer = started(client)
        assert (answer.status_code, answer.headers["Location"]) == (302, "/log/")
        person = Person.objects.get()
        assert (person.station, person.written_name) == (Station.objects.get(), "Mirela Tauber")
        assert [group.name for group in person.groups.all()] == ["engineer"]
        assert "Add its people" in client.get("/log/").content.decode()
        assert client.get("/log/T1/round").status_code == 200
        assert client.get("/admin/station/person/add/").status_code == 200

    def test_station_that_is_commissioned_asks_for_the_person_alone(self) -> None:
        station = make_station()
        assert "Register file" not in Client().get("/start").content.decode()
        assert started(register=None).status_code == 302
        assert Person.objects.get().station == station


class TestRefused:
    @pytest.mark.parametrize(
        ("over", "sentence"),
        [
            ({"code": "0000"}, "That is not the code"),
            ({"code": ""}, "This field is required"),
            ({"again": "three red kettles"}, "The two passwords are not the same"),
            ({"password": "short", "again": "short"}, "too short"),
            ({"username": "two words"}, "Enter a valid username"),
        ],
    )
    def test_sentence_stands_at_the_field(self, over: dict[str, str], sentence: str) -> None:
        answer = started(**over)
        assert answer.status_code == 400
        assert sentence in answer.content.decode()
        assert not Person.objects.exists()
        assert not Station.objects.exists()

    @pytest.mark.parametrize(
        ("register", "sentence"),
        [
            (b"", "The file is empty"),
            (b"\xff\xfe", "It is not UTF-8 text (byte 0)"),
            (b"x" * 1_000_001, "smaller than 1 MB"),
            (b"[station", "nothing was taken"),
            (REGISTER.replace(b"khz = [5900, 7500]", b"khz = [7500, 5900]"), "T1.waves.6105: "),
        ],
    )
    def test_faults_of_the_file_are_listed_and_nothing_is_taken(
        self, register: bytes, sentence: str
    ) -> None:
        answer = started(register=register)
        assert answer.status_code == 400
        assert sentence in answer.content.decode()
        assert not Station.objects.exists()

    def test_missing_file_is_said(self) -> None:
        assert started(register=None).status_code == 400

    def test_page_is_gone_once_there_is_a_person(self) -> None:
        make_person("one", "viewer", station=make_station())
        assert Client().get("/start").status_code == 404
        assert started().status_code == 404
