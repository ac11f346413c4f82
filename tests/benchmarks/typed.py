"""A year as it was typed: its slips, who was asked about them, and what then stands in the log."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import binom

from fixtures.generator import History
from fixtures.generator.truth import total_sigma
from health.rules.borrowing import expectation_at
from health.rules.channels import Channel
from health.rules.expected import Expected
from health.rules.looks import Look, looks
from health.rules.memory import Memory, place_at
from health.rules.sheets import DAY_MIN, Rounds, Sheets, channel_table, sheets_of
from health.rules.slips import FEWEST_WITH_ONE_RATIO, common_ratio, slip_of
from logbook.points import intervals
from tests.benchmarks.plants import Plant, changes, minutes, rounds_of

Numbers = npt.NDArray[np.float64]
Unlogged = tuple[int, int, float]
"""A power that nobody wrote: first minute, end, true kW."""


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


class Typed:
    """A year as it was typed, beside what is true of it."""

    def __init__(self, made: History, plant: Plant) -> None:
        self.made, self.plant = made, plant
        own = made.unlogged[made.unlogged["transmitter"] == plant.code]
        self.spans = list(
            zip(minutes(own["since"]), minutes(own["until"]), own["true_kw"], strict=True)
        )
        written = intervals(changes(made, plant.code))
        self.standing = with_true_power(written, self.spans)
        right = made.readings[plant.code].copy()
        self.typed_wrong = made.slips[made.slips["transmitter"] == plant.code]
        for one in self.typed_wrong.itertuples():
            right.loc[one.row, one.meter] = one.true_value
        self.rounds = rounds_of(made, plant, right, self.standing)
        self.written = rounds_of(made, plant, right, written)

    @cached_property
    def sheets(self) -> Sheets:
        return self.sheets_of(self.rounds)

    @cached_property
    def as_written(self) -> Sheets:
        """The same with the powers that nobody wrote left out of the log."""
        return self.sheets_of(self.written)

    def sheets_between(self, first_day: int, last_day: int) -> Sheets:
        """Those of some days alone."""
        ends = np.searchsorted(self.rounds.minute, [first_day * DAY_MIN, (last_day + 1) * DAY_MIN])
        return self.sheets_of(self.rounds.taken(slice(*ends)))

    def sheets_of(self, rounds: Rounds) -> Sheets:
        return sheets_of(rounds, self.plant.facts, self.plant.channels)

    @cached_property
    def sigma(self) -> dict[int, Numbers]:
        """The true total sigma of each meter at each round."""
        table = total_sigma(self.made, self.plant.code)
        known = self.plant.facts.items()
        return {key: table[one.code].to_numpy() for key, one in known if one.code in table}

    @cached_property
    def slips(self) -> dict[int, list[tuple[int, float, float, int]]]:
        """By minute of the round: meter id, true and typed value, row."""
        keys = {one.code: key for key, one in self.plant.facts.items()}
        found: dict[int, list[tuple[int, float, float, int]]] = {}
        for one in self.typed_wrong.itertuples():
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
