"""The second look on generated histories: ``python -m tests.benchmarks.slips --days 180``.

Every number that was written is asked about as it would be when it is typed: references of the
four weeks before (learned once a week here, to be quick), its own run so far. Good values that
are asked about are prompts; of the slips, those further from the truth than four of the total
scatter must be asked about. Seeds come from the commit, so that nothing is fitted to them.
"""

import argparse
import hashlib
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

import numpy as np  # noqa: E402
import pandas as pd  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from scipy.stats import binom  # noqa: E402

from fixtures.generator import History, history  # noqa: E402
from health.references import COUNTERS, LEARNED_FROM_MIN, heeded, learned, step_of  # noqa: E402
from health.references import Place as ReferencePlace  # noqa: E402
from health.rules.expected import believed, expected  # noqa: E402
from health.rules.slips import common_ratio, is_far, slip_of  # noqa: E402
from health.statistics.summaries import Grain, bucket_begin  # noqa: E402
from logbook.points import intervals, points_at  # noqa: E402
from logbook.times import instant_of  # noqa: E402
from station.limits import LimitBook  # noqa: E402
from station.models import Meter, Transmitter  # noqa: E402
from station.states import ON_AIR_STATES  # noqa: E402

ROOT = Path(__file__).resolve().parent.parent.parent
WEEK = 7 * 24 * 60
START = date(2025, 1, 6)
POINT = ["frequency_khz", "antenna", "power_kw", "modulation"]


@dataclass
class Counts:
    """Of one history: good values with a reference, prompts among them, slips, those caught."""

    good: int = 0
    prompts: int = 0
    firsts: int = 0
    first_prompts: int = 0
    slips: int = 0
    caught: int = 0
    offered: int = 0
    by_meter: Counter = field(default_factory=Counter)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--days", type=int, default=180)
    parser.add_argument("--histories", type=int, default=3)
    options = parser.parse_args()
    connection.creation.create_test_db(verbosity=0)
    try:
        call_command("commission", str(ROOT / "fixtures" / "demo_station.toml"), verbosity=0)
        return measure(options.days, options.histories)
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)


def measure(days: int, histories: int) -> int:
    total = Counts()
    for seed in seeds(histories):
        made = history(seed, START, days)
        for transmitter in Transmitter.objects.all():
            count(made, transmitter, total)
    print(f"{histories} histories of {days} days, seeds of commit {commit()[:10]}")
    print(f"good values {total.good}, prompts {1000 * total.prompts / total.good:.2f} per 1000")
    print(f"first rounds of a run {total.firsts}, prompts {total.first_prompts / total.firsts:.3f}")
    low, high = binom.interval(0.95, total.slips, total.caught / total.slips)
    print(
        f"slips past 4 sigma {total.slips}, caught {100 * total.caught / total.slips:.1f} % "
        f"[{100 * low / total.slips:.1f} to {100 * high / total.slips:.1f}], "
        f"right one offered for {100 * total.offered / total.caught:.0f} % of them"
    )
    print("prompts by meter:", total.by_meter.most_common(8))
    return 0


def commit() -> str:
    return subprocess.check_output(["git", "rev-parse", "HEAD"], cwd=ROOT, text=True).strip()


def seeds(count: int) -> list[int]:
    digest = hashlib.sha256(commit().encode()).digest()
    return [int.from_bytes(digest[2 * n : 2 * n + 2]) for n in range(count)]


def count(made: History, transmitter: Transmitter, total: Counts) -> None:
    """Add one transmitter's year to the total."""
    book = LimitBook(transmitter)
    meters = [meter for meter in book.meters if meter.quantity not in COUNTERS]
    written = long_frame(made, transmitter.code, meters)
    slips = slip_table(made, transmitter.code)
    sigma = written.groupby(["meter_id", *POINT])["good"].std()
    first = int(bucket_begin(int(written["minute"].min()), Grain.WEEK)) + LEARNED_FROM_MIN + WEEK
    by_key = {meter.pk: meter for meter in meters}
    read: dict[tuple[int, bool, str], tuple[list[float], list[bool]]] = {}
    for boundary in range(first, int(written["minute"].max()), WEEK):
        past = written[written["minute"].between(boundary - LEARNED_FROM_MIN, boundary - 1)]
        known = learned(book, meters, past, boundary)
        week = written[written["minute"].between(boundary, boundary + WEEK - 1)]
        for _run, of_run in week.groupby("run"):
            read = {key: value for key, value in read.items() if not key[1]}
            count_run(of_run, known, by_key, book, slips, sigma, total, read)


def read_key(line) -> tuple[int, bool, str]:
    """Meter, whether it heeds the operating point, and the programme as far as it heeds it."""
    return line.meter_id, bool(line.frequency_khz), line.modulation


def count_run(of_run, known, by_key, book, slips, sigma, total: Counts, read) -> None:
    """One run of one week, round by round as it was typed."""
    for number, (_row, sheet) in enumerate(of_run.groupby("row", sort=True)):
        found = {}
        for line in sheet.itertuples():
            place = ReferencePlace(line.frequency_khz, line.antenna, line.power_kw, line.modulation)
            reference = known.get((line.meter_id, place))
            if reference is not None:
                before = read.get(read_key(line), ([], []))
                found[line] = expected(reference, believed(reference, *before))
        if is_one_cause(found, by_key):
            continue  # an unlogged change of power is one question of its own
        asked = 0
        for line, value in found.items():
            meter = by_key[line.meter_id]
            step = step_of(book, meter, instant_of(line.minute))
            total.good += 1
            if is_far(line.good, value, step):
                asked += 1
                total.prompts += 1
                total.by_meter[meter.code] += 1
            count_slip(line, value, step, meter, slips, sigma, total)
        total.firsts += number == 0
        total.first_prompts += asked if number == 0 else 0
        for line in sheet.itertuples():
            values, confirmed = read.setdefault(read_key(line), ([], []))
            step = step_of(book, by_key[line.meter_id], instant_of(line.minute))
            is_asked = line in found and is_far(line.value, found[line], step)
            # Who is asked reads again: a good value is confirmed, a slip is put right.
            values.append(line.good if is_asked else line.value)
            confirmed.append(is_asked)


def is_one_cause(found, by_key: dict[int, Meter]) -> bool:
    ratios = {
        line.meter_id: line.good / value.value
        for line, value in found.items()
        if by_key[line.meter_id].quantity_facts.tap_exponent == 1 and value.value > 0
    }
    return common_ratio(ratios) is not None


def count_slip(line, value, step, meter: Meter, slips, sigma, total: Counts) -> None:
    slip = slips.get((line.row, meter.code))
    key = (line.meter_id, *(getattr(line, name) for name in POINT))
    if slip is None or not abs(slip[1] - slip[0]) > 4 * max(sigma.get(key, np.nan), step / 2):
        return
    total.slips += 1
    if is_far(slip[1], value, step):
        total.caught += 1
        is_water = meter.quantity == "conductivity"
        offer = slip_of(slip[1], meter.decimals, value, step, is_inverse_unit=is_water).offer
        total.offered += offer is not None and abs(offer - slip[0]) < step


def slip_table(made: History, code: str) -> dict[tuple[int, str], tuple[float, float]]:
    """The true and the typed value by row and meter."""
    own = made.slips[made.slips["transmitter"] == code]
    return {
        (line.row, line.meter): (line.true_value, line.typed_value) for line in own.itertuples()
    }


def long_frame(made: History, code: str, meters: list[Meter]) -> pd.DataFrame:
    """A row a number that was written on the air: what stood in the log and what was true."""
    keys = {meter.code: meter.pk for meter in meters}
    rounds = made.rounds[made.rounds["transmitter"] == code].set_index("row")
    written = made.readings[code].rename_axis("row").reset_index()
    frame = written.melt("row", var_name="code", value_name="value").dropna()
    frame = frame[frame["code"].isin(keys)]
    frame = frame.assign(meter_id=frame["code"].map(keys)).join(
        rounds[["observed_at", "modulation"]], on="row"
    )
    minute = frame["observed_at"].dt.tz_localize(None).to_numpy("datetime64[m]").astype(int)
    points = points_at(intervals(changes(made, code)), minute)
    frame = frame.assign(
        minute=minute,
        run=points.groupby(["run", "since"], dropna=False).ngroup().to_numpy(),
        state=points["state"].to_numpy(),
        frequency_khz=points["frequency_khz"].fillna(0.0).to_numpy(),
        antenna=points["antenna"].fillna("").to_numpy(),
        power_kw=points["power_kw"].fillna(0.0).to_numpy(),
    )
    frame = heeded(frame[frame["state"].isin(ON_AIR_STATES)], meters).sort_values("minute")
    truth = {key: true for key, (true, _typed) in slip_table(made, code).items()}
    good = [
        truth.get((row, name), value)
        for row, name, value in zip(frame["row"], frame["code"], frame["value"], strict=True)
    ]
    return frame.assign(good=good)


def changes(made: History, code: str) -> pd.DataFrame:
    own = made.states[made.states["transmitter"] == code].reset_index(drop=True)
    words = ["state", "antenna", "coil_set", "set_by"]
    tidy = own.assign(no=own.index + 1, frequency_khz=own["frequency_khz"].astype(float))
    as_objects = tidy[words].astype(object)
    return tidy.assign(**as_objects.where(as_objects.notna() & (as_objects != ""), None))


if __name__ == "__main__":
    sys.exit(main())
