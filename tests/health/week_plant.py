"""A transmitter in the week of the second of March 2026, on the air from ten to noon of its Monday,
and how the week's review is read and decided in tests."""

from datetime import UTC, datetime, timedelta
from typing import Any

from health.boards.week_review import Review, build_review
from health.models import Episode
from logbook.models import Round, WeekDecision
from logbook.services.decisions import record_decisions
from station.models import Meter, Person, Station, Transmitter
from tests.make import make_limit, make_meter, make_round, make_state
from tests.people import signed_in

MONDAY = datetime(2026, 3, 2, tzinfo=UTC)
HOUR, DAY, WEEK = timedelta(hours=1), timedelta(days=1), timedelta(days=7)
WEDNESDAY = MONDAY + 2 * DAY
WEEK_PAGE = "/week/2026-03-02"
MISSED = "missed/T1/2026-03-02"


def make_power(transmitter: Transmitter) -> Meter:
    meter = make_meter(
        transmitter, "forward_power", quantity="forward_power", unit="kW", full_scale=300
    )
    make_limit(meter, low_alarm=180, low_warning=188, high_warning=208, high_alarm=210)
    return meter


def on_air(by: Person, transmitter: Transmitter) -> Transmitter:
    at = MONDAY + 10 * HOUR
    make_state(by, transmitter, observed_at=at, state="on_air", power_kw=200.0)
    make_state(by, transmitter, observed_at=at + 2 * HOUR, state="off")
    return transmitter


def read(by: Person, plant: Transmitter, hour: float, value: str, **over: object) -> Round:
    return make_round(by, plant, {"forward_power": value}, slot=MONDAY + hour * HOUR, **over)


def make_low(by: Person, plant: Transmitter) -> Episode:
    """Power of 100 kW at both rounds of Monday, under its alarm of 180: one flag that stands."""
    for hour in (10, 11):
        read(by, plant, hour, "100")
    return Episode.objects.get()


def key_of(flag: Episode) -> str:
    return f"flag/T1/forward_power/limit-low/{flag.first_no}"


def review(station: Station, since: datetime = MONDAY, now: datetime = WEDNESDAY) -> Review:
    return build_review(station, since, now)


def decide(by: Person, key: str, decision: str = "watch", **over: Any) -> WeekDecision:
    """In that week, on its Wednesday."""
    facts = {"week": MONDAY.date(), "key": key, "words": "as shown", "decision": decision}
    return record_decisions([(None, {**facts, **over})], by=by, at=WEDNESDAY)[0]


def sign(engineer: Person, left_open: int) -> Any:
    """Sign the week with so many items left open."""
    return signed_in(engineer).post(f"{WEEK_PAGE}/sign", {"meant": f"left-open:{left_open}"})
