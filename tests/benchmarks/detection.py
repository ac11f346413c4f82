"""The judge on generated years: ``python -m tests.benchmarks.detection``.

Fault-free years of all three transmitters tell how often it cries; years with one fault, each
beside its fault-free twin of the same seed, whether and when it is found, and what it is taken for.
Whoever is asked about a value reads it again, and an unlogged power that is asked about is written.
Seeds come from the commit, so that nothing is fitted to them.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import numpy as np  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from scipy.stats import beta  # noqa: E402

from fixtures.generator import history  # noqa: E402
from fixtures.generator.faults import KINDS  # noqa: E402
from health.rules.groups import grouped  # noqa: E402
from health.rules.sheets import DAY_MIN  # noqa: E402
from station.limits import LimitBook  # noqa: E402
from station.models import Transmitter  # noqa: E402
from tests.benchmarks.faults import DAYS, START, Faulty, Found, Twin  # noqa: E402
from tests.benchmarks.plants import Plant, plant_of  # noqa: E402
from tests.benchmarks.seeds import commit, seeds  # noqa: E402
from tests.benchmarks.typed import Asked, Typed  # noqa: E402
from tests.benchmarks.years import judged_year  # noqa: E402

FIRST_MINUTE = int(np.datetime64(START, "m").astype(np.int64))
WEEKS = DAYS // 7
STRANGERS = [name for name, kind in KINDS.items() if kind.is_stranger]
PLANTS: dict[str, Plant] = {}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--histories", type=int, default=60)
    parser.add_argument(
        "--faults", type=int, default=20, help="of each kind, of a stranger twice as many; 0: none"
    )
    parser.add_argument("--kinds", nargs="*", default=list(KINDS))
    options = parser.parse_args()
    connection.creation.create_test_db(verbosity=0)
    try:
        call_command("commission", "fixtures/demo_station.toml", verbosity=0)
        for transmitter in Transmitter.objects.all():
            PLANTS[transmitter.code] = plant_of(LimitBook(transmitter), FIRST_MINUTE)
        print(f"seeds of commit {commit()[:10]}")
        with ProcessPoolExecutor(2, mp_context=get_context("fork")) as pool:
            report_healthy(list(pool.map(healthy, seeds(options.histories))))
            work = list(by_twin(options.kinds, seeds(2 * options.faults)).items())
            report_faults([one for found in pool.map(of_twin, work) for one in found])
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)
    return 0


@dataclass
class Healthy:
    """One fault-free year of the station."""

    asked: Asked
    onsets: Counter = field(default_factory=Counter)
    weeks: list[int] = field(default_factory=list)
    years: list[float] = field(default_factory=list)
    raw: list[int] = field(default_factory=list)


def healthy(seed: int) -> Healthy:
    found = Healthy(Asked())
    made = history(seed, START, DAYS)
    for plant in PLANTS.values():
        flags = judged_year(Typed(made, plant), found.asked).flags.values()
        for one in flags:
            found.onsets[plant.code, one.rule, plant.facts[one.meter_id].code] += 1
        found.raw.append(len(flags))
        firsts = [group[0].since for group in grouped(flags, lambda one: one.since)]
        week = (np.array(firsts, dtype=int) - FIRST_MINUTE) // (7 * DAY_MIN)
        counts = np.bincount(week, minlength=WEEKS)
        found.weeks += counts.tolist()
        found.years.append(float(counts.mean()))
    return found


def report_healthy(found: Sequence[Healthy]) -> None:
    asked = sum((one.asked for one in found), Asked())
    weeks = np.array([count for one in found for count in one.weeks])
    raw = sum(sum(one.raw) for one in found) / len(weeks)
    years = [rate for one in found for rate in one.years]
    print(f"\nfault-free: {len(found)} years of {len(PLANTS)} transmitters")
    print(f"raw flag onsets per transmitter-week {raw:.3f} (bar 0.4)")
    print(
        f"grouped {weeks.mean():.3f} (bar 0.2), 90th percentile week {np.percentile(weeks, 90):.0f}"
        f" (bar 1), worst year {max(years):.2f} (bar 0.6)"
    )
    total: Counter = sum((one.onsets for one in found), Counter())
    for (code, rule, meter), count in total.most_common(12):
        print(f"  {count / len(weeks) * len(PLANTS):.4f} a week of {code}: {rule}, {meter}")
    print(asked.report())


Place = tuple[int, str]


def by_twin(kinds: Sequence[str], of_seeds: Sequence[int]) -> dict[Place, list[str]]:
    """By seed and transmitter the kinds of fault that are drawn there, each in its turn."""
    found: dict[Place, list[str]] = {}
    for kind in kinds:
        places = KINDS[kind].transmitters
        of_kind = of_seeds if KINDS[kind].is_stranger else of_seeds[: len(of_seeds) // 2]
        for number, seed in enumerate(of_kind):
            found.setdefault((seed, places[number % len(places)]), []).append(kind)
    return found


def of_twin(work: tuple[Place, list[str]]) -> list[Found]:
    """Judge a fault-free year, and the same year with one fault after the other."""
    (seed, code), kinds = work
    twin = Twin(seed, PLANTS[code], kinds)
    faulty = (Faulty(fault, twin) for fault in twin.faults)
    return [one.judged() for one in faulty if one.is_seen]


def report_faults(results: Sequence[Found | None]) -> None:
    found = [one for one in results if one is not None]
    if not found:
        return
    print(f"\nslow faults past four sigmas: {len(found)} of {len(results)} drawn")
    print(
        "kind                 n  found          before alarm  delay  alarm  3 sigma  lead  of ramp"
    )
    for kind in dict.fromkeys(one.kind for one in found):
        print(line_of(kind, [one for one in found if one.kind == kind]))
    print(line_of("all", found))


def line_of(name: str, found: Sequence[Found]) -> str:
    seen = [one for one in found if one.delay is not None]
    both = [one for one in seen if one.alarm_delay is not None]
    lead = [one.alarm_delay - one.delay for one in both]
    share = [one / of.ramp_days for one, of in zip(lead, both, strict=True)]
    early = sum(one.is_before_alarm for one in found)
    return (
        f"{name:18} {len(found):4}  {rate(len(seen), len(found))}  {rate(early, len(found))}  "
        f"{median(one.delay for one in found):5}  {median(one.alarm_delay for one in found):5}  "
        f"{median(one.sigma_delay for one in found):5}  {median(lead):5}  {median(share):5}"
    )


def rate(hits: int, of: int) -> str:
    """Per cent with its 95 % interval (Clopper and Pearson)."""
    low = beta.ppf(0.025, hits, of - hits + 1) if hits else 0.0
    high = beta.ppf(0.975, hits + 1, of - hits) if hits < of else 1.0
    return f"{100 * hits / of:3.0f} [{100 * low:3.0f}-{100 * high:3.0f}]"


def median(values: Iterator[float | None] | Sequence[float]) -> str:
    """The median, where what was not found counts as never."""
    row = [np.inf if one is None else one for one in values]
    return f"{np.median(row):.1f}" if row and np.isfinite(np.median(row)) else "-"


if __name__ == "__main__":
    sys.exit(main())
