"""Generated years of the demo station judged as they were typed, without a database's detour."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import binom

from fixtures.generator import History
from fixtures.generator.truth import total_sigma
from health.frames import judge_frame
from health.rules.borrowing import expectation_at
from health.rules.channels import Channel, MeterFacts
from health.rules.days import judge_day, judge_shifts
from health.rules.episode import Episode
from health.rules.events import Event, of_tube
from health.rules.expected import Expected
from health.rules.judge import Carry, judge
from health.rules.looks import Look, looks
from health.rules.memory import Memory, begun_anew, place_at, with_day
from health.rules.notes import STUCK, STUCK_DAYS, copied_rows, stuck_meters
from health.rules.pattern import judge_pattern
from health.rules.sheets import (
    DAY_MIN,
    Rounds,
    Sheets,
    channel_table,
    joined,
    rf_ends_of,
    sheets_of,
)
from health.rules.slips import FEWEST_WITH_ONE_RATIO, common_ratio, slip_of
from health.sheets import channels_at, meter_facts
from health.spans import Span
from health.statistics.drift import ends_week
from logbook.points import intervals, points_at
from logbook.times import instant_of
from station.limits import LimitBook
from station.states import ON_AIR_STATES

Numbers = npt.NDArray[np.float64]
Unlogged = tuple[int, int, float]
"""A power that nobody wrote: first minute, end, true kW."""


@dataclass(frozen=True)
class Plant:
    """One transmitter as the judge knows it."""

    code: str
    book: LimitBook
    facts: dict[int, MeterFacts]
    channels: tuple[Channel, ...]


def plant_of(book: LimitBook, minute: int) -> Plant:
    facts = meter_facts(book, instant_of(minute))
    return Plant(book.transmitter.code, book, facts, channels_at(facts))


def rounds_of(
    made: History, plant: Plant, readings: pd.DataFrame, standing: pd.DataFrame
) -> Rounds:
    """The rounds of a transmitter with these readings, as its people wrote them."""
    told = made.rounds[made.rounds["transmitter"] == plant.code].reset_index(drop=True)
    minute = minutes(told["observed_at"])
    points = points_at(standing, minute)
    columns = {one.code: key for key, one in plant.facts.items()}
    values = readings[list(columns)].set_axis(list(columns.values()), axis=1).astype(float)
    return Rounds(
        minute=minute,
        no=np.arange(1, minute.size + 1),
        values=values,
        is_confirmed=pd.DataFrame(False, index=values.index, columns=values.columns),
        modulation=told["modulation"].to_numpy(dtype=object),
        is_wet=(told["weather"] == "wet").to_numpy(),
        points=points,
        is_on_air=points["state"].isin(ON_AIR_STATES).to_numpy(),
        rf_ends=rf_ends_of(standing, standing["state"].isin(ON_AIR_STATES).to_numpy()),
    )


def minutes(instants: pd.Series) -> npt.NDArray[np.int64]:
    return instants.dt.tz_localize(None).to_numpy("datetime64[m]").astype(np.int64)


def changes(made: History, code: str) -> pd.DataFrame:
    """The changes of state as the log holds them."""
    own = made.states[made.states["transmitter"] == code].reset_index(drop=True)
    words = ["state", "antenna", "coil_set", "set_by"]
    tidy = own.assign(no=own.index + 1, frequency_khz=own["frequency_khz"].astype(float))
    as_objects = tidy[words].astype(object)
    return tidy.assign(**as_objects.where(as_objects.notna() & (as_objects != ""), None))


def tube_days(made: History, plant: Plant) -> dict[int, list[tuple[str, str]]]:
    """Stage and socket of the tubes changed, by day."""
    stages = {one.socket: one.stage for one in plant.facts.values() if one.socket}
    works = made.works
    own = works[(works["transmitter"] == plant.code) & (works["kind"] == "tube_change")]
    found: dict[int, list[tuple[str, str]]] = {}
    for minute, socket in zip(minutes(own["observed_at"]), own["socket"].str.upper(), strict=True):
        found.setdefault(int(minute) // DAY_MIN, []).append((stages.get(socket, ""), socket))
    return found


@dataclass
class Asked:
    """How often was asked about what was typed, and what it found."""

    good: int = 0
    prompts: int = 0
    first_rounds: int = 0
    first_prompts: int = 0
    slips: int = 0
    caught: int = 0
    offered: int = 0
    unlogged: int = 0
    unlogged_asked: int = 0

    def __add__(self, other: "Asked") -> "Asked":
        return Asked(*(getattr(self, one.name) + getattr(other, one.name) for one in fields(Asked)))

    def report(self) -> str:
        low, high = binom.interval(0.95, self.slips, self.caught / self.slips)
        return (
            f"second look: {self.good} good values, {1000 * self.prompts / self.good:.2f} prompts "
            f"per 1000 (bar 2.5); {self.first_prompts / self.first_rounds:.3f} prompts a first "
            f"round of a run (bar 0.10, {self.first_rounds} of them)\n"
            f"slips past 4 sigma {self.slips}, asked about {100 * self.caught / self.slips:.1f} % "
            f"[{100 * low / self.slips:.1f} to {100 * high / self.slips:.1f}] (bar 98), the right "
            f"value offered for {100 * self.offered / self.caught:.0f} % of them; unlogged powers "
            f"asked about {self.unlogged_asked} of {self.unlogged}"
        )


def judged_year(made: History, plant: Plant, asked: Asked | None) -> list[Episode]:
    """All flags of one transmitter's year. With ``asked`` everything is typed with its slips, and
    who is asked reads again; without, all slips were put right.
    """
    typed = Typed(made, plant)
    flags: list[Episode] = []
    memory, standing, last_days = Memory(plant.channels), [], []
    changed = tube_days(made, plant)
    for day, sheets in typed.sheets.days():
        for of_day in sorted(one for one in changed if one <= day):
            begun = (of_tube(plant.channels, *place) for place in changed.pop(of_day))
            memory = begun_anew(memory, [Event(day, keys) for keys in begun])
        if asked is not None:
            sheets = typed.read_again(memory, sheets, asked)
        flags += copied_rows(memory, sheets, plant.facts)
        judged = judge_day(memory, sheets, plant.facts, standing)
        memory = with_day(memory, day, sheets, judged.values)
        moved, shifts = judge_shifts(memory, sheets, standing)
        known = [*standing, *judged.standing, *shifts]
        signals, patterns = judge_pattern(memory, sheets, known)
        last_days = [*(one for one in last_days if one.day[0] > day - STUCK_DAYS), sheets]
        held, stuck = [], [one for one in standing if one.rule == STUCK]
        if ends_week(day):
            held, stuck = stuck_meters(memory, joined(last_days), plant.facts, standing)
        standing = [*judged.standing, *shifts, *patterns, *stuck]
        flags += [*judged.episodes, *moved, *signals, *held]
        typed.keep(sheets)
    newest = {one.key: one for one in [*flags, *limits_of(typed)]}
    return list(newest.values())


class Typed:
    """A year as it was typed, beside what is true of it."""

    def __init__(self, made: History, plant: Plant) -> None:
        self.plant = plant
        own = made.unlogged[made.unlogged["transmitter"] == plant.code]
        self.spans = list(
            zip(minutes(own["since"]), minutes(own["until"]), own["true_kw"], strict=True)
        )
        as_written = intervals(changes(made, plant.code))
        self.standing = with_true_power(as_written, self.spans)
        right = made.readings[plant.code].copy()
        slips = made.slips[made.slips["transmitter"] == plant.code]
        for one in slips.itertuples():
            right.loc[one.row, one.meter] = one.true_value
        self.rounds = rounds_of(made, plant, right, self.standing)
        self.sheets = sheets_of(self.rounds, plant.facts, plant.channels)
        self.as_written = sheets_of(
            rounds_of(made, plant, right, as_written), plant.facts, plant.channels
        )
        self.slips = self.slips_by_round(slips)
        sigma = total_sigma(made, plant.code)
        self.sigma = {
            key: sigma[one.code].to_numpy() for key, one in plant.facts.items() if one.code in sigma
        }
        self.kept: list[Sheets] = []

    def slips_by_round(self, slips: pd.DataFrame) -> dict[int, list[tuple[int, float, float]]]:
        """By minute of the round: meter id, true and typed value."""
        keys = {one.code: key for key, one in self.plant.facts.items()}
        found: dict[int, list[tuple[int, float, float]]] = {}
        for one in slips.itertuples():
            line = (keys[one.meter], float(one.true_value), float(one.typed_value), int(one.row))
            found.setdefault(int(self.rounds.minute[one.row]), []).append(line)
        return found

    def read_again(self, memory: Memory, sheets: Sheets, asked: Asked) -> Sheets:
        """The day as it stands in the log after the second looks."""
        table, confirmed = sheets.values.copy(), sheets.is_confirmed.copy()
        by_meter = sheets.by_meter.copy()
        seen = replace(sheets, values=table, is_confirmed=confirmed)
        whole = {
            (one.meter_id, place): one
            for place, one in enumerate(self.plant.channels)
            if not one.relation
        }
        before_run = -1
        for look in looks(memory, seen):
            row, right = look.row, sheets.values[look.row]
            self.ask_power(memory, int(sheets.minute[row]), right, asked)
            is_first = sheets.retune[row] != before_run and before_run >= 0
            before_run = int(sheets.retune[row])
            is_meter = np.array([not one.relation for one in self.plant.channels])
            is_known = is_meter & ~np.isnan(look.value) & ~np.isnan(right)
            is_asked = is_known & look.is_far(right)
            confirmed[row] |= is_asked
            asked.good += int(is_known.sum())
            asked.prompts += int(is_asked.sum())
            asked.first_rounds += is_first
            asked.first_prompts += int(is_asked.sum()) if is_first else 0
            for meter_id, true_value, typed, of_row in self.slips.get(int(sheets.minute[row]), ()):
                for (key, place), channel in whole.items():
                    if key != meter_id or not is_known[place]:
                        continue
                    is_caught = abs(typed - look.value[place]) > look.reach[place]
                    self.count_slip(
                        asked, channel, look, place, true_value, typed, of_row, is_caught
                    )
                    if not is_caught:
                        table[row, place] = typed
                        by_meter.loc[by_meter.index[row], meter_id] = typed
        relations = channel_table(by_meter, self.plant.facts, self.plant.channels)
        is_relation = np.array([bool(one.relation) for one in self.plant.channels])
        table[:, is_relation] = np.where(seen.says, relations, np.nan)[:, is_relation]
        for place, one in enumerate(self.plant.channels):
            if one.relation:
                of_it = [p for (key, p) in whole if key in one.meter_ids]
                confirmed[:, place] = confirmed[:, of_it].any(axis=1)
        return replace(seen, by_meter=by_meter)

    def ask_power(self, memory: Memory, minute: int, right: Numbers, asked: Asked) -> None:
        """Whether the first round after a power that nobody wrote is one question."""
        if not self.spans or minute < self.spans[0][0]:
            return
        since, until, _true_kw = self.spans.pop(0)
        row = int(np.searchsorted(self.as_written.minute, minute))
        known = expectation_at(memory, place_at(self.as_written, row))
        should_be = known.centre + memory.last.recent * known.total
        goes = np.array([one.goes_with_power for one in self.plant.channels]) & (should_be > 0)
        if since <= minute < until and (~np.isnan(right[goes])).sum() >= FEWEST_WITH_ONE_RATIO:
            ratio = (right / should_be)[goes]
            asked.unlogged += 1
            asked.unlogged_asked += common_ratio(ratio[~np.isnan(ratio)]) is not None

    def count_slip(
        self,
        asked: Asked,
        channel: Channel,
        look: Look,
        place: int,
        true_value: float,
        typed: float,
        row: int,
        is_caught: bool,
    ) -> None:
        if not abs(typed - true_value) > 4 * self.sigma[channel.meter_id][row]:
            return
        asked.slips += 1
        asked.caught += is_caught
        if is_caught:
            should = Expected(*(float(one[place]) for one in (look.value, look.sigma, look.reach)))
            facts = self.plant.facts[channel.meter_id]
            decimals = max(0, len(f"{facts.step:g}".partition(".")[2]))
            offer = slip_of(
                typed,
                decimals,
                should,
                channel.step,
                is_inverse_unit=facts.quantity == "conductivity",
            ).offer
            asked.offered += offer is not None and abs(offer - true_value) < channel.step

    def keep(self, sheets: Sheets) -> None:
        self.kept.append(sheets)


def confirmed_of(typed: Typed, rows: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Which values were read twice, because they were asked about: as ``rows``, in one row."""
    table = pd.DataFrame(False, index=range(len(rows)), columns=rows.columns)
    confirmed = np.concatenate([one.is_confirmed for one in typed.kept])
    for place, one in enumerate(typed.plant.channels):
        if not one.relation:
            table[one.meter_id] |= confirmed[:, place]
    return table.to_numpy().ravel()


def limits_of(typed: Typed) -> list[Episode]:
    """The flags of the fixed limits on what stands in the log."""
    rows = pd.concat([one.by_meter for one in typed.kept])
    minute = np.concatenate([one.minute for one in typed.kept])
    no = np.concatenate([one.no for one in typed.kept])
    place = np.searchsorted(typed.rounds.minute, minute)
    long = (
        pd.DataFrame(
            {
                "minute": np.repeat(minute, rows.shape[1]),
                "no": np.repeat(no, rows.shape[1]),
                "meter_id": np.tile(rows.columns.to_numpy(), len(rows)),
                "value": rows.to_numpy().ravel(),
                "code": "",
                "bound": "",
                "mark": np.where(confirmed_of(typed, rows), "=", ""),
                "modulation": np.repeat(typed.rounds.modulation[place], rows.shape[1]),
            }
        )
        .dropna(subset=["value"])
        .reset_index(drop=True)
    )
    span = Span(long, typed.standing, int(minute[0]), int(minute[-1]) + 1)
    episodes, _carry = judge(judge_frame(typed.plant.book, span), Carry())
    return episodes


def with_true_power(standing: pd.DataFrame, spans: Sequence[Unlogged]) -> pd.DataFrame:
    """The operating points as they stand once the powers that nobody wrote were asked about."""
    for since, until, true_kw in spans:
        at, end = (pd.Timestamp(int(one) * 60, unit="s", tz="UTC") for one in (since, until))
        before = standing[standing["observed_at"] <= at].iloc[-1:]
        begun = before.assign(observed_at=at, power_kw=true_kw)
        inside = standing["observed_at"].between(at, end, inclusive="left")
        known = standing.assign(power_kw=standing["power_kw"].mask(inside, true_kw))
        ordered = pd.concat([known, begun]).sort_values("observed_at", kind="stable")
        standing = ordered.reset_index(drop=True)
    return standing


def three_sigma(made: History, plant: Plant) -> list[Episode]:
    """Each meter against mean and sigma of its first four weeks, whatever the operating point."""
    typed = Typed(made, plant)
    values, minute, no = typed.sheets.by_meter, typed.sheets.minute, typed.sheets.no
    first = minute < minute[0] + 28 * DAY_MIN
    found = []
    for meter_id in values:
        row = values[meter_id].to_numpy()
        if np.isnan(row[first]).all():
            continue
        mean, sigma = np.nanmean(row[first]), np.nanstd(row[first])
        is_beyond = np.abs(row - mean) > 3 * sigma
        begins = np.flatnonzero(is_beyond & ~np.append(False, is_beyond[:-1]))
        found += [
            Episode("three-sigma", meter_id, int(no[at]), int(minute[at]), int(minute[at]), "low")
            for at in begins
            if not first[at]
        ]
    return found
