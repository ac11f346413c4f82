"""Drifts against the raw driver and against scipy: ``python -m tests.benchmarks.drift``.

One transmitter with 24 meters whose waves change twice a day; ten years of hours times the scale
are its readings, and every day of them stands in the judge's memory for every channel.
"""

import sys
import time
from datetime import timedelta

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import numpy as np  # noqa: E402
from scipy.stats import theilslopes  # noqa: E402

from health.drift import DriftBook, drifts_of_meter, store_drifts  # noqa: E402
from health.memory import OF_DAY  # noqa: E402
from health.models import ChannelDay  # noqa: E402
from health.statistics.trends import theil_sen  # noqa: E402
from logbook.inserts import insert  # noqa: E402
from logbook.models import Reading  # noqa: E402
from logbook.times import minute_of  # noqa: E402
from station.limits import LimitBook  # noqa: E402
from tests.benchmarks.import_log import settle  # noqa: E402
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
from tests.benchmarks.plant import (  # noqa: E402
    HOURS_IN_TEN_YEARS,
    METERS,
    SEED,
    START,
    Plant,
    build,
    write,
)

DAYS_IN_TEN_YEARS = 3650
DAY_MIN = 24 * 60
RISE_A_DAY = 1e-4
SERIES_COMPARED = 3


def main() -> int:
    hours = round(HOURS_IN_TEN_YEARS * options_of(__doc__, scale=0.1).parse_args().scale)
    figures = [*of_many_series(), of_every_hour()]
    with own_database():
        return report([*figures, *of_stored_days(hours)])


def series(points: int, number: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Readings on the steps of a meter that rise a little."""
    rng = np.random.default_rng([SEED, number])
    x = np.arange(float(points))
    return x, np.round((12.4 + rng.normal(0, 0.3, points) + RISE_A_DAY * x) / 0.02) * 0.02


def of_many_series() -> list[Figure]:
    """P13: ten years of days of every meter of a transmitter."""
    all_series = [series(DAYS_IN_TEN_YEARS, number) for number in range(METERS)]
    theil_sen(*all_series[0])
    times = np.array(
        [
            [
                milliseconds(lambda x=x, y=y: theil_sen(x, y)),
                milliseconds(lambda x=x, y=y: theilslopes(y, x)),
            ]
            for x, y in all_series
        ]
    )
    own, floor = np.median(times, axis=0)
    print(f"median slope of {DAYS_IN_TEN_YEARS} points {own:.1f} ms, scipy {floor:.0f} ms")
    some = all_series[:SERIES_COMPARED]
    off = max(abs(theil_sen(x, y).slope - theilslopes(y, x).slope) for x, y in some)
    return [
        Figure(
            f"P13 40 x slopes of {DAYS_IN_TEN_YEARS} / scipy, median of {METERS}",
            40 * float(np.median(times[:, 0] / times[:, 1])),
            1.0,
            "x",
        ),
        Figure("P13 slopes off scipy's, parts of 1e-8", off / 1e-8, 1.0),
    ]


def of_every_hour() -> Figure:
    x, y = series(HOURS_IN_TEN_YEARS)
    began = time.perf_counter()
    theil_sen(x, y)
    return Figure("P13 slope of 87 600 points", time.perf_counter() - began, 1.0, "s")


def of_stored_days(hours: int) -> list[Figure]:
    """P7: what one meter's page says of drift, as kept when the day had ended, over a raw fetch of
    its readings."""
    plant = build(transmitter_count=1)
    write(plant, 0, hours)
    now = START + timedelta(hours=hours)
    channels = remember(plant, hours)
    settle()
    transmitter = plant.transmitters[0]
    meter = plant.meters[transmitter.pk][0]
    book = LimitBook(transmitter)
    read = Reading.objects.current().filter(meter=meter).values_list("minute", "value")
    sql = compiled(read)
    began = time.perf_counter()
    store_drifts(book, now)
    seconds = time.perf_counter() - began
    times = pairs(lambda: fetch(*sql), lambda: drifts_of_meter(book, meter, now))
    raw, page = np.median(times, axis=0)
    print(f"{hours} hours; raw fetch {raw:.1f} ms, the meter's drifts {page:.1f} ms")
    print(f"kept when a day has ended: {channels} channels in {seconds:.2f} s")
    return ratio_figures("P7 drifts of one meter / raw fetch", times, 1 / 20, 1 / 15)


def remember(plant: Plant, hours: int) -> int:
    """What the judge keeps of every day, in the order in which it keeps it."""
    transmitter = plant.transmitters[0]
    drifts = DriftBook(LimitBook(transmitter), START + timedelta(hours=hours))
    first, days = minute_of(START) // DAY_MIN, hours // 24
    offsets = np.random.default_rng(SEED).normal(0, 0.1, (days, len(drifts.channels)))
    offsets += RISE_A_DAY * np.arange(days)[:, None]
    place = OF_DAY.index("offset")
    rest = [1.0] * (len(OF_DAY) - 3)
    rows = []
    for day, of_day in enumerate(offsets.tolist()):
        for one, offset in zip(drifts.channels, of_day, strict=True):
            row = [one.key, first + day, 1, *rest]
            row[place] = offset
            rows.append((transmitter.pk, *row))
    insert(ChannelDay, ["transmitter_id", *OF_DAY], rows)
    return len(drifts.channels)


if __name__ == "__main__":
    sys.exit(main())
