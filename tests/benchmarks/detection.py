"""The judge on generated years: ``python -m tests.benchmarks.detection``.

Fault-free years of all three transmitters tell how often it cries; years with one slow fault, each
beside its fault-free twin of the same seed, whether and when it is found. Whoever is asked about a
value reads it again, and an unlogged power that is asked about is written. Seeds come from the
commit, so that nothing is fitted to them.
"""

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from datetime import date
from multiprocessing import get_context

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import numpy as np  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from scipy.stats import beta  # noqa: E402

from fixtures.generator import history  # noqa: E402
from fixtures.generator.faults import KINDS, draw_fault  # noqa: E402
from fixtures.generator.history import History  # noqa: E402
from fixtures.generator.truth import truth_of  # noqa: E402
from health.rules.episode import Episode  # noqa: E402
from health.rules.groups import grouped  # noqa: E402
from health.rules.sheets import DAY_MIN  # noqa: E402
from station.limits import LimitBook  # noqa: E402
from station.models import Transmitter  # noqa: E402
from tests.benchmarks.seeds import commit, seeds  # noqa: E402
from tests.benchmarks.years import Asked, Plant, judged_year, plant_of, three_sigma  # noqa: E402

START, DAYS = date(2025, 1, 6), 365
FIRST_MINUTE = int(np.datetime64(START, "m").astype(np.int64))
WEEKS = DAYS // 7
SLOW = [name for name, kind in KINDS.items() if kind.ramp_days[0] >= 3 and not kind.is_stranger]
MOVED_SIGMAS, PAST_SIGMAS, AFTER_DAYS = 1.5, 4.0, 14
PLANTS: dict[str, Plant] = {}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--histories", type=int, default=60)
    parser.add_argument("--faults", type=int, default=20, help="of each slow kind; 0: none")
    parser.add_argument("--kinds", nargs="*", default=SLOW)
    options = parser.parse_args()
    connection.creation.create_test_db(verbosity=0)
    try:
        call_command("commission", "fixtures/demo_station.toml", verbosity=0)
        for transmitter in Transmitter.objects.all():
            PLANTS[transmitter.code] = plant_of(LimitBook(transmitter), FIRST_MINUTE)
        print(f"seeds of commit {commit()[:10]}")
        with ProcessPoolExecutor(2, mp_context=get_context("fork")) as pool:
            report_healthy(list(pool.map(healthy, seeds(options.histories))))
            work = list(by_twin(options.kinds, seeds(options.faults)).items())
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
        flags = judged_year(made, plant, found.asked)
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


@dataclass(frozen=True)
class Found:
    """What became of one fault; days from the instant at which it passed four sigmas."""

    kind: str
    ramp_days: float
    delay: float | None
    alarm_delay: float | None
    sigma_delay: float | None
    by: str

    @property
    def is_before_alarm(self) -> bool:
        return self.delay is not None and (
            self.alarm_delay is None or self.delay < self.alarm_delay
        )


Twin = tuple[int, str]


def by_twin(kinds: Sequence[str], of_seeds: Sequence[int]) -> dict[Twin, list[str]]:
    """By seed and transmitter the kinds of fault that are drawn there, each in its turn."""
    found: dict[Twin, list[str]] = {}
    for kind in kinds:
        places = KINDS[kind].transmitters
        for number, seed in enumerate(of_seeds):
            found.setdefault((seed, places[number % len(places)]), []).append(kind)
    return found


def of_twin(work: tuple[Twin, list[str]]) -> list[Found | None]:
    """Judge a fault-free year, and the same year with one fault after the other."""
    (seed, code), kinds = work
    plant = PLANTS[code]
    twin = history(seed, START, DAYS, (code,))
    flags = judges(twin, plant)
    return [faulty(kind, seed, twin, flags, plant) for kind in kinds]


Flags = tuple[list[Episode], ...]


def judges(made: History, plant: Plant) -> Flags:
    """What the judge says, its alarm limits alone, and three sigmas without operating point."""
    all_rules = judged_year(made, plant, None)
    limits_alone = [one for one in all_rules if one.rule.startswith("limit")]
    return all_rules, limits_alone, three_sigma(made, plant)


def faulty(kind: str, seed: int, twin: History, of_twin: Flags, plant: Plant) -> Found | None:
    """Judge one fault beside its twin; None where it never passes four sigmas."""
    fault = draw_fault(seed, kind, plant.code, np.datetime64(START), DAYS)
    made = history(seed, START, DAYS, (plant.code,), fault)
    moved = truth_of(fault, made, twin).meters
    peak = moved["peak"].abs()
    if not peak.max() > PAST_SIGMAS:
        return None
    past = minute_of(moved["first_past_4"].min().tz_localize(None).to_datetime64())
    touched = {key for key, one in plant.facts.items() if peak.get(one.code, 0) >= MOVED_SIGMAS}
    window = minute_of(fault.start), max(minute_of(fault.ramp_end), past) + AFTER_DAYS * DAY_MIN
    net = [
        first_net(own, known, plant, touched, window)
        for own, known in zip(judges(made, plant), of_twin, strict=True)
    ]
    delays = [None if one is None else (one.since - past) / DAY_MIN for one in net]
    return Found(kind, fault.ramp_days, *delays, by=net[0].rule if net[0] else "")


def first_net(
    flags: Sequence[Episode],
    of_twin: Sequence[Episode],
    plant: Plant,
    touched: set[int],
    window: tuple[int, int],
) -> Episode | None:
    """The first flag on a moved meter in the fault's time that the twin does not raise as well."""
    known = defaultdict(list)
    for one in of_twin:
        known[one.rule, one.meter_id].append(one)
    own = sorted(flags, key=lambda one: one.since)
    return next(
        (
            one
            for one in own
            if window[0] <= one.since <= window[1]
            and touched & meters_of(one, plant)
            and not any(is_near(one, other) for other in known[one.rule, one.meter_id])
        ),
        None,
    )


def meters_of(flag: Episode, plant: Plant) -> set[int]:
    channel = flag.evidence.get("channel")
    ids = [one.meter_ids for one in plant.channels if one.key == channel]
    return set(ids[0]) if ids else {flag.meter_id}


def is_near(one: Episode, other: Episode) -> bool:
    """Whether a flag of the twin stood within two days of this one's begin."""
    ends = other.until is None or other.until >= one.since - 2 * DAY_MIN
    return other.since <= one.since + 2 * DAY_MIN and ends


def minute_of(instant: np.datetime64) -> int:
    return int(instant.astype("datetime64[m]").astype(np.int64))


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
