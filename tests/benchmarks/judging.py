"""Judging against the raw driver: ``python -m tests.benchmarks.judging``.

P9: a round saved and judged, over the same rows raw. P16: everything judged anew, over the raw
fetch of the same values. Twelve transmitters with 24 meters each, ten years of hours times the
scale.
"""

import resource
import sys
from datetime import timedelta

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

from django.db import connection  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from health.assess import assess  # noqa: E402
from logbook import port  # noqa: E402
from logbook.models import Reading  # noqa: E402
from logbook.reading_text import TypedReading  # noqa: E402
from logbook.services.rounds import RoundDraft, record_round  # noqa: E402
from tests.benchmarks import plant as benchmark_plant  # noqa: E402
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
from tests.benchmarks.storage import raw_rows, raw_save  # noqa: E402


def main() -> int:
    hours = round(
        benchmark_plant.HOURS_IN_TEN_YEARS * options_of(__doc__, scale=0.02).parse_args().scale
    )
    with own_database():
        plant = benchmark_plant.build()
        benchmark_plant.write(plant, 0, hours)
        settle()
        return report([*rebuild(plant), *save(plant, hours)])


def rebuild(plant: benchmark_plant.Plant) -> list[Figure]:
    """P16"""
    ids = [meter.pk for meters in plant.meters.values() for meter in meters]
    values = Reading.objects.current().filter(meter__in=ids)
    sql = compiled(values.values_list("meter_id", "minute", "value"))
    floor = min(milliseconds(lambda: fetch(*sql)) for _time in range(3))

    def application() -> None:
        for transmitter in plant.transmitters:
            assess(transmitter, rebuild=True)

    ratio = milliseconds(application) / floor
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    return [
        Figure(f"P16 rebuild / raw fetch of {values.count()} values", ratio, 15, "x"),
        Figure("P16 memory", peak, 2, "GB"),
    ]


def save(plant: benchmark_plant.Plant, hours: int) -> list[Figure]:
    """P9"""
    transmitter = plant.transmitters[0]
    cells = {meter: TypedReading(value=12.4) for meter in plant.meters[transmitter.pk]}
    first = benchmark_plant.START + timedelta(hours=hours + 1)
    minutes = iter(range(100_000))
    # Of another transmitter: what the floor writes is not judged.
    template = raw_rows(plant.transmitters[1].pk)

    def application() -> None:
        slot = first + timedelta(minutes=next(minutes))
        draft = RoundDraft(transmitter, slot, slot, "on", cells)
        with port.silent():
            record_round(draft, by=plant.by, at=slot + timedelta(minutes=7))
        assess(transmitter)

    application()
    with CaptureQueriesContext(connection) as captured:
        application()
    times = pairs(lambda: raw_save(template), application)
    return [
        *ratio_figures("P9 save and judging / the same rows raw", times, 12, 12),
        Figure("P9 statements", len(captured), 24),
    ]


if __name__ == "__main__":
    sys.exit(main())
