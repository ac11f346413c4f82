"""From an empty database to the first person: what the start page may do, and does.

Whoever reaches an empty server first could claim it. So the page asks for a code that only the
machine's own console shows: it is derived from the secret key, and stored nowhere.
"""

import hmac
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.contrib.auth.models import Group
from django.db import transaction
from django.utils.crypto import salted_hmac

from station.models import Person, Station
from station.register.faults import Fault
from station.register.take import commission

CODE_LENGTH = 16
FIRST_ROLE = "engineer"


@dataclass(frozen=True)
class FirstPerson:
    user_name: str
    first_name: str
    last_name: str
    password: str


def is_first_run() -> bool:
    return not Person.objects.exists()


def setup_code() -> str:
    digest = salted_hmac("station.first_run", settings.SECRET_KEY, algorithm="sha256")
    return digest.hexdigest()[:CODE_LENGTH]


def is_setup_code(text: str) -> bool:
    return hmac.compare_digest(text.strip().lower().encode(), setup_code().encode())


class Faulty(Exception):
    """The register file has faults; nothing was taken."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("; ".join(map(str, faults)))


@transaction.atomic
def begin(first: FirstPerson, register: str, file_name: str, *, at: datetime) -> Person:
    """Take the register, unless a station is there already, and make its engineer in charge.

    Raises
    ------
    Faulty
        Nothing is written then.
    """
    if not Station.objects.exists():
        report = commission(register, file_name, at=at)
        if report.faults:
            raise Faulty(report.faults)
    person = Person.objects.create_user(
        first.user_name,
        password=first.password,
        first_name=first.first_name,
        last_name=first.last_name,
        station=Station.objects.order_by("pk")[0],
        is_staff=True,
    )
    person.groups.add(Group.objects.get(name=FIRST_ROLE))
    return person
