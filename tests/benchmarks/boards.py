"""The boards against the raw driver: ``python -m tests.benchmarks.boards``.

Twelve transmitters with 24 meters each; measured with a tenth of the years in the log, and again
with all of them. ``--with-import`` measures the import as well, in the same log.
"""

import sys
from datetime import timedelta
from itertools import pairwise
from typing import Any

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import numpy as np  # noqa: E402
import orjson  # noqa: E402

from health.boards.history import build_history  # noqa: E402
from health.boards.week import HOURS, WEEK, build_week, hourly, week_begin  # noqa: E402
from health.charts import week_payload  # noqa: E402
from health.history_charts import history_payload  # noqa: E402
from health.models import Judging  # noqa: E402
from health.summaries import last_minute, summarise_from  # noqa: E402
from logbook.models import Entry, Reading  # noqa: E402
from logbook.times import minute_of  # noqa: E402
from station.limits import limit_books  # noqa: E402
from tests.benchmarks import import_log  # noqa: E402
from tests.benchmarks.measure import (  # noqa: E402
    Figure,
    compiled,
    fetch,
    milliseconds,
    options_of,
    own_database,
    pairs,
    ratio_figures,
    report,
)
from tests.benchmarks.plant import HOURS_IN_TEN_YEARS, START, Plant, build, write  # noqa: E402

BOARDS = 20
YEAR = timedelta(days=365)


def main() -> int:
    parser = options_of(__doc__, scale=0.1)
    parser.add_argument("--with-import", action="store_true", help="measure P10 and P11 too")
    options = parser.parse_args()
    hours = round(HOURS_IN_TEN_YEARS * options.scale)
    with own_database():
        return measure(hours, options.with_import)


def measure(hours: int, with_import: bool) -> int:
    plant = build()
    boards, imports = [], []
    for number, (first, last) in enumerate(
        pairwise(round(hours * part) for part in import_log.PARTS)
    ):
        write(plant, first, last)
        mark_judged(plant)
        import_log.settle()
        boards.append(board_milliseconds(plant, last))
        if with_import:
            imports.append(import_log.imports_after(plant, hours, number))
    print(f"{hours} hours; week board {boards[-1]:.0f} ms", flush=True)
    figures = [
        *station_week(plant, hours),
        Figure("P3 week board with all years / with a tenth", boards[1] / boards[0], 1.15, "x"),
        *history(plant, hours),
        *(import_log.figures(imports) if with_import else ()),
    ]
    return report(figures)


def mark_judged(plant: Plant) -> None:
    """As in service, where a save is judged at once: nothing waits."""
    head = Entry.objects.filter(station=plant.station).latest("no").no
    for transmitter in plant.transmitters:
        own = {"transmitter": transmitter, "station": plant.station}
        Judging.objects.update_or_create(**own, defaults={"judged_no": head})


def newest_monday(hours: int) -> Any:
    """The begin of the last whole week of the log."""
    return week_begin(START + timedelta(hours=hours)) - WEEK


def board_milliseconds(plant: Plant, hours: int) -> float:
    """The whole board with its payload, the median of some."""
    since = newest_monday(hours)
    now = since + WEEK

    def board() -> None:
        week_payload(build_week(plant.station, since, now))

    board()
    return float(np.median([milliseconds(board) for _board in range(BOARDS)]))


def station_week(plant: Plant, hours: int) -> list[Figure]:
    """P2: two weeks of every transmitter as a grid and JSON, over the same rows raw and as JSON."""
    books, since = limit_books(plant.station), newest_monday(hours)
    first = minute_of(since - WEEK)
    ids = [meter.pk for meters in plant.meters.values() for meter in meters]
    read = Reading.objects.current().filter(
        meter__in=ids, minute__gte=first, minute__lt=first + 2 * HOURS * 60
    )
    numbers = compiled(read.values_list("meter_id", "minute", "value"))
    beyond = compiled(read.filter(bound__gt="").values_list("meter_id", "minute"))

    def application() -> bytes:
        grid = hourly(books, since)
        return orjson.dumps(list(grid.values()), option=orjson.OPT_SERIALIZE_NUMPY)

    times = pairs(lambda: orjson.dumps([fetch(*numbers), fetch(*beyond)]), application)
    return ratio_figures("P2 weeks of the station / raw SQL and JSON", times, 2.0, 2.6)


def history(plant: Plant, hours: int) -> list[Figure]:
    """P6: one meter over all years by the week, over one year by the day. P14: its payload."""
    transmitter = plant.transmitters[0]
    meters = plant.meters[transmitter.pk]
    until = START + timedelta(hours=hours)
    judging = Judging.objects.get(transmitter=transmitter)
    meter_ids = [meter.pk for meter in meters]
    summarise_from(judging, transmitter, meter_ids, 0, last_minute(meter_ids))
    times = pairs(
        lambda: build_history(meters[0], (until - YEAR, until)),
        lambda: build_history(meters[0], (START, until)),
    )
    return [
        *ratio_figures("P6 history of all years / of one year", times, 1.6, 2.0)[:1],
        *payload(build_history(meters[0], (START, until))),
    ]


def payload(board: Any) -> list[Figure]:
    points = board.curve.points
    columns = ("minute", "frequency_khz", "low", "median", "high")
    arrays = [np.ascontiguousarray(points[name].to_numpy()) for name in columns]

    def plain() -> bytes:
        return orjson.dumps(arrays, option=orjson.OPT_SERIALIZE_NUMPY)

    times = pairs(plain, lambda: history_payload(board))
    bytes_ratio = len(history_payload(board)) / len(plain())
    return [
        *ratio_figures("P14 payload of a history / JSON of its arrays", times, 3.0, 4.0)[:1],
        Figure("P14 bytes of the payload / of its arrays", bytes_ratio, 1.3, "x"),
    ]


if __name__ == "__main__":
    sys.exit(main())
