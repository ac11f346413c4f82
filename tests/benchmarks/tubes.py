"""Hours of every tube against a join over all rounds: ``python -m tests.benchmarks.tubes``.

Twelve transmitters with two sockets each and a counter a socket, ten years of hours times the
scale; on the air 18 h of every day, and a tube of every transmitter replaced every second year.
"""

import itertools
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import numpy as np  # noqa: E402
from django.db import connection  # noqa: E402

from logbook import port  # noqa: E402
from logbook.hour_book import HourBook  # noqa: E402
from logbook.inserts import ReadingRow  # noqa: E402
from logbook.models import Source  # noqa: E402
from logbook.services.bulk import Past, past_round, past_state, write_past  # noqa: E402
from logbook.services.states import StateDraft  # noqa: E402
from logbook.services.tubes import TubeDraft, record_tube_moves  # noqa: E402
from logbook.times import minute_of  # noqa: E402
from logbook.tube_log import moves_of  # noqa: E402
from logbook.tube_stays import Stay, stays  # noqa: E402
from station.models import Instrument, Meter, Socket, Stage, Tube, TubeType  # noqa: E402
from station.models.meter import Counts  # noqa: E402
from tests.benchmarks.measure import fetch, options_of, own_database, pairs, ratio_figures, report  # noqa: E402
from tests.benchmarks.plant import HOURS_IN_TEN_YEARS, START, Plant, build  # noqa: E402

HOURS_A_DAY = 18
SOCKETS = 2
YEARS_OF_A_TUBE = 2
JOIN = """
    SELECT r.meter_id, e.observed_at, r.value FROM logbook_reading r
    JOIN logbook_round o ON o.entry_id = r.round_id JOIN logbook_entry e ON e.id = o.entry_id
    JOIN station_meter m ON m.id = r.meter_id
    WHERE r.ended_by_id IS NULL AND m.counts = 'filament' ORDER BY r.meter_id, e.observed_at
"""


def main() -> int:
    hours = round(HOURS_IN_TEN_YEARS * options_of(__doc__, scale=0.1).parse_args().scale)
    with own_database():
        return measure(hours)


def measure(hours: int) -> int:
    plant = build(meter_count=SOCKETS)
    sockets = add_sockets(plant)
    write_past(plant.station, history(plant, hours))
    now = START + timedelta(hours=hours)
    with port.silent():
        fit_tubes(plant, sockets, now)
    connection.cursor().execute(
        "VACUUM ANALYZE" if connection.vendor == "postgresql" else "ANALYZE"
    )
    all_stays = stays(moves_of(plant.station))
    times = pairs(lambda: by_join(all_stays, now), lambda: by_book(plant, now))
    check(by_join(all_stays, now), by_book(plant, now))
    figures = ratio_figures("P12 hours of all tubes / join over all rounds", times, 0.2, 0.3)
    return report(figures)


def add_sockets(plant: Plant) -> list[Socket]:
    """A stage with a socket for each meter; the meters become the sockets' hour counters."""
    sockets = []
    for transmitter in plant.transmitters:
        own = {"station": plant.station}
        stage = Stage.objects.create(**own, transmitter=transmitter, code="final", name="Final")
        for meter in plant.meters[transmitter.pk]:
            sockets.append(Socket.objects.create(**own, stage=stage, code=meter.code[-1]))
            counts = {"quantity": "hours", "unit": "h", "decimals": 1, "counts": "filament"}
            places = {"stage": stage, "socket": sockets[-1]}
            Meter.objects.filter(pk=meter.pk).update(**counts, **places)
    Instrument.objects.update(full_scale=99_999.9, step=0.1, scale_law="counter")
    return sockets


def history(plant: Plant, hours: int) -> Iterator[Past]:
    for hour in range(hours):
        at = START + timedelta(hours=hour)
        if hour % 24 in {0, HOURS_A_DAY}:
            yield from changes(plant, at, "off" if hour % 24 else "on_air")
        counted = HOURS_A_DAY * (hour // 24) + min(hour % 24, HOURS_A_DAY)
        for transmitter in plant.transmitters:
            minute = minute_of(at)
            readings = [
                ReadingRow(meter, minute, float(counted)) for meter in plant.meters[transmitter.pk]
            ]
            yield past_round(
                transmitter,
                readings,
                slot=at,
                observed_at=at,
                modulation="on",
                by=plant.by,
                at=at + timedelta(minutes=3),
                source=Source.PERSON,
            )


def changes(plant: Plant, at: datetime, state: str) -> Iterator[Past]:
    for transmitter in plant.transmitters:
        yield past_state(StateDraft(transmitter, at, state=state), by=plant.by, at=at)


def fit_tubes(plant: Plant, sockets: list[Socket], now: datetime) -> None:
    """A tube for every socket at the start, and another one each second year."""
    facts = {"filament_voltage_v": 12, "filament_minimum_v": 11.4, "filament_maximum_v": 12.6}
    kind = TubeType.objects.create(
        station=plant.station, code="F", rated_life_h=11_000, lead_time_days=274, **facts
    )
    for socket in sockets:
        before, at = None, START
        for number in itertools.count(1):
            if at >= now:
                break
            serial = f"{socket.stage.transmitter.code}-{socket.code}-{number}"
            tube = Tube.objects.create(
                station=plant.station, tube_type=kind, serial=serial, received_on=at.date()
            )
            out = [TubeDraft(before, socket, None, "scrapped", "weak")] if before else []
            drafts = [*out, TubeDraft(tube, None, socket)]
            record_tube_moves(plant.station, drafts, observed_at=at, by=plant.by, at=at)
            before, at = tube, at + timedelta(days=365 * YEARS_OF_A_TUBE)


def by_join(all_stays: list[Stay], now: datetime) -> dict[int, float]:
    """The floor: every counter reading of every round, its gains summed up over each stay."""
    meter_of = dict(Meter.objects.filter(counts="filament").values_list("socket_id", "pk"))
    rows = fetch(JOIN)
    meters = np.array([row[0] for row in rows])
    instants = np.array([instant_text(row[1]) for row in rows], "datetime64[s]")
    values = np.array([row[2] for row in rows])
    hours: dict[int, float] = {}
    for stay in all_stays:
        until = np.datetime64((stay.until or now).replace(tzinfo=None), "s")
        since = np.datetime64(stay.since.replace(tzinfo=None), "s")
        mine = meters == meter_of[stay.socket]
        inside = values[mine & (instants >= since) & (instants <= until)]
        hours[stay.tube] = float(np.diff(inside).sum())
    return hours


def instant_text(value: str | datetime) -> str:
    return value if isinstance(value, str) else value.strftime("%Y-%m-%dT%H:%M:%S")


def by_book(plant: Plant, now: datetime) -> dict[int, float]:
    all_stays = stays(moves_of(plant.station))
    book = HourBook(plant.station, all_stays, now)
    return {
        stay.tube: book.hours(stay.socket, Counts.FILAMENT, stay.since, stay.until or now).hours
        for stay in all_stays
    }


def check(join: dict[int, float], book: dict[int, float]) -> None:
    """Both say the same, but for the hour after the last reading."""
    worst = max(abs(join[tube] - book[tube]) for tube in join)
    if worst > 1.0:
        raise AssertionError(f"the ways differ by {worst:.2f} h")


if __name__ == "__main__":
    sys.exit(main())
