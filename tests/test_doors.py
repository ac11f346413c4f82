"""Every door, with everybody before it: who may open which page, and what strangers see of it."""

import re
from typing import Any
from urllib.parse import quote

import pytest
from django.test import Client

from station.models import Person
from tests.people import make_people, make_person, signed_in
from tests.test_bad_inputs import PLACE, ROUTES

EVERYBODY = ("shift", "engineer", "planner", "viewer")
WRITERS = ("shift", "engineer")
MOVERS = ("shift", "engineer", "planner")
PLANNERS = ("engineer", "planner")
OUTSIDE = ("outsider", "without_role", "retired")

# Route -> who may open it. A new page is written in here, or the test names it.
PAGES: dict[str, tuple[str, ...]] = {
    "password": EVERYBODY,
    "schedule": EVERYBODY,
    "schedule/new": ("engineer",),
    "hall": EVERYBODY,
    "week": EVERYBODY,
    "week/<str:day>": EVERYBODY,
    "week/<str:monday>/sign": ("engineer",),
    "week/<str:monday>/decide": ("engineer",),
    "availability": EVERYBODY,
    "availability/<str:month>": EVERYBODY,
    "explain": EVERYBODY,
    "explain/symptoms": EVERYBODY,
    "explain/<str:name>": EVERYBODY,
    "flags": EVERYBODY,
    "flags/<str:code>/<str:meter>/<str:rule>/<int:first_no>": EVERYBODY,
    "record/<str:code>": EVERYBODY,
    "history/<str:code>/<str:meter>": EVERYBODY,
    "transmissions": EVERYBODY,
    "transmissions/<str:day>": EVERYBODY,
    "tubes": EVERYBODY,
    "tubes/<str:serial>/emission": EVERYBODY,
    "log/": EVERYBODY,
    "log/export": EVERYBODY,
    "log/interruptions": EVERYBODY,
    "log/interruptions/<str:month>": EVERYBODY,
    "log/interruption": WRITERS,
    "log/interruption/<int:loss>/restored": WRITERS,
    "log/printed": EVERYBODY,
    "log/copy": EVERYBODY,
    "log/holds": EVERYBODY,
    "log/hold/<int:hold>/released": ("engineer",),
    "log/checks": EVERYBODY,
    "log/check/<str:look>": WRITERS,
    "log/check/<int:fault>/repaired": WRITERS,
    "log/<str:code>/check/<str:topic>": WRITERS,
    "log/<str:code>/adjustment": WRITERS,
    "log/permits": EVERYBODY,
    "log/permit": WRITERS,
    "log/permit/<int:permit>/return": WRITERS,
    "log/duty": EVERYBODY,
    "log/duty/hand-over": WRITERS,
    "log/duty/take-over": WRITERS,
    "log/tube-move": MOVERS,
    "log/tube-new": PLANNERS,
    "log/tube/<str:serial>": EVERYBODY,
    "log/tube/<str:serial>/facts": PLANNERS,
    "log/<str:code>/meters": EVERYBODY,
    "log/<str:code>/meters/<str:meter>": WRITERS,
    "log/round/<int:no>": EVERYBODY,
    "log/round/<int:no>/re-read": WRITERS,
    "log/<str:code>/round": WRITERS,
    "log/<str:code>/state": WRITERS,
    "log/<str:code>/wave": WRITERS,
    "log/<str:code>/waves": EVERYBODY,
    "log/<str:code>/blank": EVERYBODY,
    "log/entry/<int:no>": EVERYBODY,
    "log/entry/<int:no>/correct": ("engineer",),
    "log/entry/<int:no>/anew": ("engineer",),
    "log/entry/<int:no>/void": ("engineer",),
    "log/entry/<int:no>/choose": EVERYBODY,
    "log/entry/<int:no>/remark": WRITERS,
    "log/<str:code>/remark": WRITERS,
    "log/<str:code>/day": EVERYBODY,
    "log/<str:code>/day/<str:day>": EVERYBODY,
    "log/<str:code>/day/<str:day>/sign": WRITERS,
}
OPEN = {"alive", "start", "sign-in", "sign-out", ""}  # '' leads on to the hall
OF_A_SPAN = {
    "explain/<str:name>",
    "log/check/<str:look>",
    "week/<str:day>",
    "availability/<str:month>",
    "log/interruptions/<str:month>",
    "transmissions/<str:day>",
    "week/<str:monday>/sign",
    "week/<str:monday>/decide",
}
OF_A_ROW = [route for route in PAGES if "<" in route and route not in OF_A_SPAN]


@pytest.fixture
def house(furnished: dict[str, Any]) -> dict[str, Any]:
    """The furnished station, whose log the engineer wrote, with everybody else before its doors."""
    station = furnished["engineer"].station
    people = make_people_beside(station, furnished["engineer"])
    return {**furnished, "people": people}


def make_people_beside(station: Any, engineer: Person) -> dict[str, Person]:
    engineer.username, name = "engineer-of-the-log", engineer.username
    engineer.save(update_fields=["username"])
    people = make_people(station)
    assert name in people
    return {**people, "engineer": engineer}


def address(route: str, good: dict[str, str]) -> str:
    def part(match: re.Match[str]) -> str:
        return quote("2026-03-02" if match[1] == "day" else good[match[1]], safe="")

    return "/" + PLACE.sub(part, route)


def test_every_page_stands_in_the_table() -> None:
    assert set(ROUTES) - OPEN == set(PAGES)


@pytest.mark.need(76)
@pytest.mark.parametrize("route", PAGES)
class TestWhoMay:
    def test_each_role_is_let_in_or_refused(self, house: dict[str, Any], route: str) -> None:
        where = address(route, house["good"])
        for role in EVERYBODY:
            status = signed_in(house["people"][role]).get(where).status_code
            assert (role, status != 403) == (role, role in PAGES[route])

    def test_nobody_without_a_role_of_the_station_is_let_in(
        self, house: dict[str, Any], route: str
    ) -> None:
        where = address(route, house["good"])
        for name in OUTSIDE:
            client = signed_in(house["people"][name])
            assert (name, client.get(where).status_code) == (name, 403)
            assert (name, client.post(where).status_code) == (name, 403)

    def test_signed_out_leads_to_the_sign_in(self, house: dict[str, Any], route: str) -> None:
        where = address(route, house["good"])
        for answer in (Client().get(where), Client().post(where)):
            assert answer.status_code == 302
            assert answer.headers["Location"].startswith("/sign-in?next=")

    def test_post_without_a_token_is_refused(self, house: dict[str, Any], route: str) -> None:
        client = Client(enforce_csrf_checks=True)
        client.force_login(house["engineer"], backend="django.contrib.auth.backends.ModelBackend")
        assert client.post(address(route, house["good"])).status_code == 403

    def test_page_is_not_kept_by_the_browser_and_names_its_policy(
        self, house: dict[str, Any], route: str
    ) -> None:
        answer = signed_in(house["people"]["viewer"]).get(address(route, house["good"]))
        assert answer.headers["Cache-Control"] == "no-store"
        assert "default-src 'self'" in answer.headers["Content-Security-Policy"]


FORM = re.compile(r'<form[^>]*method="post"[^>]*>(.*?)</form>', re.DOTALL)


@pytest.mark.parametrize("route", PAGES)
def test_every_form_that_saves_carries_its_token(house: dict[str, Any], route: str) -> None:
    """A part of a page that is included alone must be handed it, or nothing can be saved."""
    page = signed_in(house["engineer"]).get(address(route, house["good"]), follow=True)
    forms = FORM.findall(page.content.decode()) if not page.streaming else []
    assert [form for form in forms if "csrfmiddlewaretoken" not in form] == []


@pytest.mark.need(76)
@pytest.mark.parametrize("route", OF_A_ROW)
def test_engineer_of_another_station_finds_nothing(house: dict[str, Any], route: str) -> None:
    client = signed_in(house["people"]["stranger"])
    where = address(route, house["good"])
    assert client.get(where).status_code in {404, 405}
    assert client.post(where).status_code == 404


@pytest.mark.need(76)
def test_retired_person_is_out_at_once(house: dict[str, Any]) -> None:
    """A session that is open when somebody retires opens nothing more."""
    viewer = house["people"]["viewer"]
    client = signed_in(viewer)
    assert client.get("/hall").status_code == 200
    viewer.retired_at = viewer.date_joined
    viewer.save(update_fields=["retired_at"])
    assert client.get("/hall").status_code == 403


class TestSignIn:
    def test_wrong_password_is_throttled_for_that_name_alone(self, station: Any) -> None:
        make_person("one", "viewer", station=station)
        make_person("other", "viewer", station=station)
        client = Client()
        for _attempt in range(6):
            client.post("/sign-in", {"username": "one", "password": "wrong"})
        right = "a long enough pass phrase"
        locked = client.post("/sign-in", {"username": "one", "password": right})
        free = client.post("/sign-in", {"username": "other", "password": right})
        assert locked.status_code == 429
        assert free.status_code == 302

    def test_new_password_ends_the_other_sessions(self, station: Any) -> None:
        person = make_person("one", "viewer", station=station)
        here, elsewhere = signed_in(person), signed_in(person)
        form = {"old_password": "a long enough pass phrase"}
        form |= {"new_password1": "three blue kettles", "new_password2": "three blue kettles"}
        assert here.post("/password", form).status_code == 302
        assert here.get("/log/").status_code == 200
        assert elsewhere.get("/log/").headers["Location"].startswith("/sign-in")

    @pytest.mark.parametrize(
        ("new", "sentence"),
        [
            ("kettle", "too short"),
            ("password1234", "too common"),
            ("28475638475", "entirely numeric"),
            ("adalbert-one", "too similar"),
        ],
    )
    def test_weak_password_is_refused_with_why(self, station: Any, new: str, sentence: str) -> None:
        person = make_person("adalbert-one", "viewer", station=station)
        form = {"old_password": "a long enough pass phrase"}
        answer = signed_in(person).post(
            "/password", form | {"new_password1": new, "new_password2": new}
        )
        assert sentence in answer.content.decode()

    def test_session_is_short_and_kept_from_scripts(self, settings: Any) -> None:
        """A twelve-hour shift and its hand-over; the cookie goes to this site alone."""
        assert settings.SESSION_COOKIE_AGE == 13 * 3600
        assert settings.SESSION_COOKIE_HTTPONLY
        assert settings.SESSION_COOKIE_SAMESITE == "Lax"

    def test_sign_in_does_not_lead_off_the_host(self, station: Any) -> None:
        make_person("one", "viewer", station=station)
        form = {"username": "one", "password": "a long enough pass phrase"}
        answer = Client().post("/sign-in?next=https://elsewhere.example/", form)
        assert answer.headers["Location"] == "/"
