"""One person per role, and those who may do nothing: as functions and as fixtures."""

from datetime import UTC, datetime
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.test import Client

from station.access import ROLES
from station.models import Person, Station
from tests.make import make_station

PASSWORD = "a long enough pass phrase"
RETIRED_AT = datetime(2025, 6, 30, tzinfo=UTC)
BACKEND = "django.contrib.auth.backends.ModelBackend"


def make_person(name: str, role: str = "", *, station: Station | None, **over: Any) -> Person:
    """A person of a station, in a role unless ``role`` is ''."""
    person = Person.objects.create_user(
        name,
        password=PASSWORD,
        **{"station": station, "first_name": name.title(), "last_name": "Moor", **over},
    )
    if role:
        person.groups.add(Group.objects.get_or_create(name=role)[0])
    return person


def make_people(station: Station) -> dict[str, Person]:
    """Everybody whose access a test may ask about, by name."""
    people = {role: make_person(role, role, station=station) for role in ROLES}
    elsewhere = make_station(code="elsewhere", name="Elsewhere")
    return {
        **people,
        "outsider": make_person("outsider", station=None),
        "without_role": make_person("without_role", station=station),
        "retired": make_person("retired", "engineer", station=station, retired_at=RETIRED_AT),
        "stranger": make_person("stranger", "engineer", station=elsewhere),
    }


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend=BACKEND)
    return client


@pytest.fixture
def shift(station: Station) -> Person:
    return make_person("shift", "shift", station=station)


@pytest.fixture
def engineer(station: Station) -> Person:
    return make_person("engineer", "engineer", station=station, is_staff=True)


@pytest.fixture
def planner(station: Station) -> Person:
    return make_person("planner", "planner", station=station)


@pytest.fixture
def viewer(station: Station) -> Person:
    return make_person("viewer", "viewer", station=station)


@pytest.fixture
def outsider(db: None) -> Person:
    """Signs in, and belongs to no station."""
    return make_person("outsider", station=None)


@pytest.fixture
def retired(station: Station) -> Person:
    """Was an engineer of the station."""
    return make_person("retired", "engineer", station=station, retired_at=RETIRED_AT)


@pytest.fixture
def stranger(db: None) -> Person:
    """An engineer of another station."""
    elsewhere = make_station(code="elsewhere", name="Elsewhere")
    return make_person("stranger", "engineer", station=elsewhere, is_staff=True)
