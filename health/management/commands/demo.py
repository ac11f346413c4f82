"""The invented station with a history up to now, judged, and its server."""

import logging
import time
import tomllib
from argparse import ArgumentTypeError
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils.translation import gettext as _

from fixtures.generator import history
from fixtures.load import Loaded, load
from fixtures.people import SignIn, make_people
from fixtures.published import publish
from health.assess import assess
from logbook import port
from logbook.models import Entry
from station.management.commands.serve import port_number
from station.models import Station, Transmitter
from station.progress import ProgressBar
from station.register.take import commission

REGISTER = Path(__file__).resolve().parents[3] / "fixtures" / "demo_station.toml"
DAYS_IN_YEAR = 365.25


def at_least_one(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise ArgumentTypeError(_("'%(text)s': write a whole number from 1") % {"text": text})
    return int(text)


class Command(BaseCommand):
    help = "Make the invented station with its history in an empty database, then serve it."

    def add_arguments(self, parser: CommandParser) -> None:
        length = parser.add_mutually_exclusive_group()
        length.add_argument("--days", type=at_least_one, default=60, help="length of the history")
        length.add_argument("--years", type=at_least_one, help="the same in years")
        parser.add_argument("--seed", type=int, default=1, help="another seed, another history")
        parser.add_argument("--no-serve", action="store_true", help="stop before serving")
        parser.add_argument("--port", type=port_number, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("migrate", verbosity=0)
        text = REGISTER.read_text(encoding="utf-8")
        refuse_other_stations(tomllib.loads(text)["station"]["code"])
        if Entry.objects.exists():
            self.stdout.write(_("The demo station is here already; its history was left alone."))
        else:
            self.make(text, days_wanted(options), options["seed"])
        if not options["no_serve"]:
            call_command("serve", port=options["port"])

    def make(self, text: str, days: int, seed: int) -> None:
        started = time.monotonic()
        now = datetime.now(UTC)
        report = commission(text, REGISTER.name, at=now)
        if report.faults:
            raise CommandError("\n".join(map(str, report.faults)))
        station = Station.objects.get()
        with quiet(), port.silent(), transaction.atomic():
            sign_ins, loaded = write_history(station, now, days, seed)
            judge_all(station)
        self.stdout.write(told(station, loaded, time.monotonic() - started))
        self.stdout.write("\n".join(sign_in_lines(sign_ins)))


def refuse_other_stations(code: str) -> None:
    other = Station.objects.exclude(code=code).first()
    if other is not None:
        sentence = _(
            "This database holds the station %(name)s, and the demo takes an empty one: set "
            "DATA_DIR to a new folder, or DATABASE_URL to a new database."
        )
        raise CommandError(sentence % {"name": other.name})


def days_wanted(options: dict[str, Any]) -> int:
    years = options["years"]
    return round(years * DAYS_IN_YEAR) if years else options["days"]


def write_history(
    station: Station, now: datetime, days: int, seed: int
) -> tuple[list[SignIn], Loaded]:
    """The people and what they wrote up to the last full hour."""
    until = now.replace(minute=0, second=0, microsecond=0)
    start = (until - timedelta(days=days)).date()
    made = history(seed, start, days + 1)
    crew, sign_ins = make_people(station)
    publish(station, datetime(start.year, start.month, start.day, tzinfo=UTC), now, crew.engineer)
    with ProgressBar(_("writing")) as bar:
        return sign_ins, load(made, station, crew, until, seed=seed, progress=bar)


def judge_all(station: Station) -> None:
    transmitters = list(Transmitter.objects.filter(station=station).select_related("station"))
    with ProgressBar(_("judging")) as bar:
        for place, transmitter in enumerate(transmitters):
            assess(
                transmitter,
                progress=lambda share, place=place: bar((place + share) / len(transmitters)),
            )


@contextmanager
def quiet() -> Iterator[None]:
    """Without a log line for each correction of the history."""
    logging.disable(logging.INFO)
    try:
        yield
    finally:
        logging.disable(logging.NOTSET)


def told(station: Station, loaded: Loaded, seconds: float) -> str:
    return _(
        "%(name)s: %(rounds)s rounds, %(readings)s readings, %(states)s changes of state and "
        "%(corrections)s corrections, written and judged in %(seconds).0f s."
    ) % {"name": station.name, "seconds": seconds, **vars(loaded)}


def sign_in_lines(sign_ins: Iterable[SignIn]) -> Iterator[str]:
    yield _("Sign in as (the passwords are shown this once):")
    for one in sign_ins:
        yield f"  {one.role:10} {one.person.username:10} {one.password}"
