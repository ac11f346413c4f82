"""The judge on generated years: ``python -m tests.benchmarks.detection``.

Fault-free years of all three transmitters tell how often it cries; years with one fault, each
beside its fault-free twin of the same seed, whether and when it is found, and what it is taken for.
Whoever is asked about a value reads it again, and an unlogged power that is asked about is written.
Seeds come from the commit, so that nothing is fitted to them.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
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
from health.rules.episode import Episode  # noqa: E402
from health.rules.groups import grouped  # noqa: E402
from health.rules.sheets import DAY_MIN  # noqa: E402
from health.rules.symptoms import NO_MATCH  # noqa: E402
from station.limits import LimitBook  # noqa: E402
from station.models import Transmitter  # noqa: E402
from tests.benchmarks.faults import DAYS, START, Faulty, Found, Twin  # noqa: E402
from tests.benchmarks.plants import Plant, plant_of  # noqa: E402
from tests.benchmarks.seeds import commit, seeds  # noqa: E402
from tests.benchmarks.truths import TOLD_AS  # noqa: E402
from tests.benchmarks.typed import Asked, Typed  # noqa: E402
from tests.benchmarks.years import ThreeSigma, judged_year  # noqa: E402

FIRST_MINUTE = int(np.datetime64(START, "m").astype(np.int64))
WEEKS = DAYS // 7
STRANGERS = [name for name, kind in KINDS.items() if kind.is_stranger]
SLOW_DAYS = 3
SHIFT_MIN, MOST_IN_SHIFT = 8 * 60, 2
WAYS = ("delay", "alarm_delay", "sigma_delay")
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
    """One fault-free year of the station: flags by transmitter, rule and meter; grouped ones by
    transmitter-week, by transmitter-year and by shift of the station; and how many the fixed limits
    and three sigmas would have raised in a transmitter-week."""

    asked: Asked
    onsets: Counter = field(default_factory=Counter)
    weeks: list[int] = field(default_factory=list)
    years: list[float] = field(default_factory=list)
    shifts: list[int] = field(default_factory=list)
    others: Counter = field(default_factory=Counter)


def healthy(seed: int) -> Healthy:
    found = Healthy(Asked())
    made = history(seed, START, DAYS)
    begins: list[int] = []
    for plant in PLANTS.values():
        typed = Typed(made, plant)
        flags = list(judged_year(typed, found.asked).flags.values())
        for one in flags:
            found.onsets[plant.code, one.rule, plant.facts[one.meter_id].code] += 1
        firsts = first_minutes(flags)
        counts = np.bincount((firsts - FIRST_MINUTE) // (7 * DAY_MIN), minlength=WEEKS)
        found.weeks += counts.tolist()
        found.years.append(float(counts.mean()))
        begins += firsts.tolist()
        sigmas = ThreeSigma(typed.sheets).flags(typed.sheets)
        limits = [one for one in flags if one.rule.startswith("limit")]
        for name, own in (("fixed limits", limits), ("3 sigma", sigmas)):
            found.others[f"{name}, raw"] += len(own)
            found.others[f"{name}, grouped"] += first_minutes(own).size
    shift = (np.array(begins, dtype=int) - FIRST_MINUTE) // SHIFT_MIN
    found.shifts = np.bincount(shift, minlength=DAYS * DAY_MIN // SHIFT_MIN).tolist()
    return found


def first_minutes(flags: Sequence[Episode]) -> np.ndarray:
    """The minutes at which groups of flags begin."""
    return np.array([one[0].since for one in grouped(flags, lambda one: one.since)], dtype=int)


def report_healthy(found: Sequence[Healthy]) -> None:
    asked = sum((one.asked for one in found), Asked())
    weeks = np.array([count for one in found for count in one.weeks])
    onsets: Counter = sum((one.onsets for one in found), Counter())
    years = [rate for one in found for rate in one.years]
    few = np.mean([count <= MOST_IN_SHIFT for one in found for count in one.shifts])
    print(f"\nFault-free: {len(found)} years of {len(PLANTS)} transmitters.\n")
    print("| a transmitter-week | flags |\n|---|---|")
    print(f"| raw onsets | {sum(onsets.values()) / weeks.size:.3f} |")
    print(f"| grouped | {weeks.mean():.3f} |")
    print(f"| grouped, 90th percentile week | {np.percentile(weeks, 90):.0f} |")
    print(f"| grouped, worst year | {max(years):.2f} |")
    for name, count in sum((one.others for one in found), Counter()).items():
        print(f"| {name} | {count / weeks.size:.2f} |")
    print(f"| shifts of the station with at most {MOST_IN_SHIFT} grouped | {100 * few:.1f} % |")
    by_rule: Counter = Counter()
    for (_code, rule, _meter), count in onsets.items():
        by_rule[rule] += count
    for rule, count in by_rule.most_common():
        print(f"| of them {rule} | {count / weeks.size:.3f} |")
    print("\nThe most frequent:")
    for (code, rule, meter), count in onsets.most_common(8):
        print(f"{code} {rule} {meter} {count / weeks.size * len(PLANTS):.3f} a week;")
    print(f"\n{asked.report()}")


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


def report_faults(results: Sequence[Found]) -> None:
    """By kind: found, when, and what it was taken for."""
    if not results:
        return
    print(
        "\n| kind | n | found % | peak 2 to 4: found | before the alarm % | delay d | alarm d | "
        "3 sigma d | lead d | of ramp |\n" + "|---" * 10 + "|"
    )
    for kind in dict.fromkeys(one.kind for one in results):
        print(line_of(kind, [one for one in results if one.kind == kind]))
    known = [one for one in results if one.kind not in STRANGERS]
    print(line_of("all but strangers", known))
    print(line_of("slow ones of them", [one for one in known if is_slow(one.kind)]))
    print(
        "\n| kind | n | at the flag: first % | in three % | 7 days on: first % | answers then |\n"
        + "|---" * 6
        + "|"
    )
    for kind in TOLD_AS:
        print(symptom_line(kind, [one for one in known if one.kind == kind and one.at_flag]))
    print(symptom_line("all", [one for one in known if one.kind in TOLD_AS and one.at_flag]))
    print(
        "\n| stranger | n | no match: at the flag | 7 days on | fully grown | answers then |\n"
        + "|---" * 6
        + "|"
    )
    strange = [one for one in results if one.kind in STRANGERS and one.at_flag]
    for kind in STRANGERS:
        print(stranger_line(kind, [one for one in strange if one.kind == kind]))
    print(stranger_line("all", strange))


def is_slow(kind: str) -> bool:
    return KINDS[kind].ramp_days[0] >= SLOW_DAYS


def line_of(name: str, results: Sequence[Found]) -> str:
    found = [one for one in results if one.is_past]
    below = [one for one in results if not one.is_past]
    seen = [one for one in found if one.delay is not None]
    leads = [one.lead for one in seen]
    shares = [one.lead / one.ramp_days for one in seen if one.ramp_days]
    early = sum(one.is_before_alarm for one in found)
    cells = (
        name,
        str(len(found)),
        rate(len(seen), len(found)),
        f"{sum(one.delay is not None for one in below)} of {len(below)}",
        rate(early, len(found)),
        *(median(getattr(one, way) for one in found) for way in WAYS),
        median(leads),
        median(shares),
    )
    return f"| {' | '.join(cells)} |"


def symptom_line(name: str, found: Sequence[Found]) -> str:
    first = sum(one.at_flag[0] in TOLD_AS[one.kind] for one in found)
    in_three = sum(not TOLD_AS[one.kind].isdisjoint(one.at_flag) for one in found)
    later = sum(one.later[0] in TOLD_AS[one.kind] for one in found)
    cells = (name, str(len(found)), *(rate(one, len(found)) for one in (first, in_three, later)))
    return f"| {' | '.join(cells)} | {answers(one.later[0] for one in found)} |"


def stranger_line(name: str, found: Sequence[Found]) -> str:
    rates = (
        rate(sum(getattr(one, when)[0] == NO_MATCH for one in found), len(found))
        for when in ("at_flag", "later", "at_end")
    )
    cells = (name, str(len(found)), *rates, answers(one.at_end[0] for one in found))
    return f"| {' | '.join(cells)} |"


def answers(names: Iterable[str]) -> str:
    return ", ".join(f"{name} {count}" for name, count in Counter(names).most_common(4))


def rate(hits: int, of: int) -> str:
    """Per cent with its 95 % interval (Clopper and Pearson)."""
    if not of:
        return "-"
    low = beta.ppf(0.025, hits, of - hits + 1) if hits else 0.0
    high = beta.ppf(0.975, hits + 1, of - hits) if hits < of else 1.0
    return f"{100 * hits / of:3.0f} [{100 * low:3.0f}-{100 * high:3.0f}]"


def median(values: Iterator[float | None] | Sequence[float]) -> str:
    """The median, where what was not found counts as never."""
    row = [np.inf if one is None else one for one in values]
    return f"{np.median(row):.1f}" if row and np.isfinite(np.median(row)) else "-"


if __name__ == "__main__":
    sys.exit(main())
