"""Whether a tube still emits enough, joined from what can show it. Pure.

Emission is a margin: what the filament can give over what the peaks ask. While it is above 1 the
carrier readings show nothing of it; a test tone and a lowered filament show it first.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from health.statistics.drift import is_told
from health.statistics.trends import FEWEST_POINTS, mann_kendall, theil_sen

Numbers = npt.NDArray[np.float64]

BASELINE_TONES, NEWEST_TONES = 4, 3
"""A tone is held against the tube's own first ones, and the newest are taken together, so that one
that was read wrong does not speak: common practice, no source."""
SEEN_PERCENT = 2.0
"""A smaller fall is a step of the scale or two: a current of 12.4 A is read in steps of 0.2 A,
which is 1.6 %. Common practice, no source."""
WEAK_TONE_PERCENT = 8.0
"""The tone is short by as much as the low warning of a tone meter is commonly set below its normal
value (8 to 9 %): common practice, no source."""
CARRIER_PERCENT = 3.0
"""What the carrier readings of a sound tube wander by themselves is some 1 %: common practice, no
source. Three times that is more than its wander."""
LEAST_LOWERED_PERCENT = 3.0
"""A filament that was lowered by less shows too little: common practice, no source."""
TEST_AGAIN_H = (500.0, 1000.0)
"""A step test every 500 to 1000 filament hours (from memory); an older one is too old."""


class Emission(StrEnum):
    """What can be said, the worst first."""

    WEAK, FALLING, ENOUGH, UNTOLD = "weak", "falling", "enough", "untold"


class Source(StrEnum):
    TONE, STEP, CARRIER = "tone", "step", "carrier"


@dataclass(frozen=True)
class Evidence:
    """What one source says by itself. ``code`` names its sentence, ``figures`` are in it; ``n``
    is how many readings or tests it stands on, ``at`` the newest of them."""

    source: Source
    code: str
    says: Emission = Emission.UNTOLD
    n: int = 0
    at: datetime | None = None
    figures: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Tones:
    """The tone currents of one tube in order: filament hours, and the current at full power."""

    at: Sequence[datetime]
    hours: Numbers
    current: Numbers


@dataclass(frozen=True)
class StepTest:
    """One filament step test; falls in per cent, None where it was not read."""

    at: datetime
    hours: float
    lowered: float
    anode: float | None = None
    grid: float | None = None
    power: float | None = None

    @property
    def falls(self) -> list[float]:
        return [one for one in (self.anode, self.grid, self.power) if one is not None]

    @property
    def most(self) -> float:
        return max(self.falls)


@dataclass(frozen=True)
class Carrier:
    """How a current of the tube moved on carrier and programme since its baseline began [%].

    ``is_pair``: what it has moved against the other tube of the pair, by which the crew's
    restoring of the power is taken out. ``slope`` is per 1000 h on the air.
    """

    at: datetime
    points: int
    recent: float
    slope: float
    is_told: bool
    is_pair: bool

    @property
    def is_down(self) -> bool:
        return self.is_told and self.slope < 0 and self.recent <= -CARRIER_PERCENT


@dataclass(frozen=True)
class Statement:
    """``at`` is the newest of what decided; ``check`` names the next check, ``is_inside`` whether
    that is inside the cabinet. ``due_h``: the filament hours by which a step test is due."""

    state: Emission
    at: datetime | None
    evidence: tuple[Evidence, ...]
    check: str
    is_inside: bool
    due_h: tuple[float, float] | None


def tone_percent(current: npt.ArrayLike) -> Numbers:
    """Tone currents against the tube's own first ones.

    Parameters
    ----------
    current : array_like [A]
        At one power, in the order of time.

    Returns
    -------
    ndarray [%]
        Of the length of ``current``.

    Notes
    -----
    The baseline is the median of the first BASELINE_TONES.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> tone_percent([11.0, 11.2, 11.0, 11.0, 9.9]).round(1).tolist()
    [0.0, 1.8, 0.0, 0.0, -10.0]
    """
    row = np.asarray(current, dtype=np.float64)
    return np.asarray(100 * (row / np.median(row[:BASELINE_TONES]) - 1))


def judge_tones(tones: Tones | None, now_h: float) -> Evidence:
    """What the weekly tone says; ``tones`` None: no meter shows this tube on the tone."""
    if tones is None:
        return Evidence(Source.TONE, "no-tone-meter")
    n = len(tones.at)
    newest = tones.at[-1] if n else None
    if n < FEWEST_POINTS:
        return Evidence(Source.TONE, "few-tones", n=n, at=newest, figures={"n": n})
    percent = tone_percent(tones.current)
    level = round(float(np.median(percent[-NEWEST_TONES:])), 1)
    slope = theil_sen(tones.hours / 1000, percent)
    figures = {"n": n, "level": level, "p": mann_kendall(percent).p}
    if slope is not None:
        figures |= {"slope": slope.slope, "low": slope.low, "high": slope.high}
    said = tone_word(figures, age_h=now_h - float(tones.hours[-1]))
    return Evidence(Source.TONE, *said, n=n, at=newest, figures=figures)


def tone_word(figures: Mapping[str, float], age_h: float) -> tuple[str, Emission]:
    level, slope = figures["level"], figures.get("slope", 0.0)
    if level <= -WEAK_TONE_PERCENT:
        return "tone-weak", Emission.WEAK
    if level <= -SEEN_PERCENT and slope < 0 and is_told(slope, figures["p"]):
        return "tone-falling", Emission.FALLING
    if age_h > TEST_AGAIN_H[1]:
        return "tone-old", Emission.UNTOLD
    return "tone-steady", Emission.ENOUGH


def judge_steps(steps: Sequence[StepTest], now_h: float) -> Evidence:
    """What the step tests say, the newest of them first of all; in the order of time."""
    if not steps:
        return Evidence(Source.STEP, "no-step")
    newest, n = steps[-1], len(steps)
    if not newest.falls:
        return Evidence(Source.STEP, "step-unread", n=n, at=newest.at)
    figures = {"n": n, "fall": newest.most, "lowered": newest.lowered}
    figures |= {"hours": newest.hours, "age": now_h - newest.hours, **growth(steps)}
    said = step_word(newest, now_h)
    return Evidence(Source.STEP, *said, n=n, at=newest.at, figures=figures)


def growth(steps: Sequence[StepTest]) -> dict[str, float]:
    """By how many points a 1000 filament hours the fall grew: the median slope of three or more."""
    read = [one for one in steps if one.falls]
    if len(read) < 3:
        return {}
    slope = theil_sen([one.hours / 1000 for one in read], [one.most for one in read])
    return {} if slope is None else {"slope": slope.slope}


def step_word(newest: StepTest, now_h: float) -> tuple[str, Emission]:
    """A tube with emission to spare hardly heeds its filament; one that loses as large a part of
    its current as the filament was lowered by is held by its emission: common practice, no
    source."""
    if newest.lowered < LEAST_LOWERED_PERCENT:
        return "step-small", Emission.UNTOLD
    if newest.most >= newest.lowered:
        return "step-weak", Emission.WEAK
    if newest.most >= SEEN_PERCENT:
        return "step-falling", Emission.FALLING
    if now_h - newest.hours > TEST_AGAIN_H[1]:
        return "step-old", Emission.UNTOLD
    return "step-steady", Emission.ENOUGH


def judge_carrier(trends: Sequence[Carrier]) -> Evidence:
    """What the hourly readings say: below a margin of 1 something, above it nothing."""
    if not trends:
        return Evidence(Source.CARRIER, "no-carrier")
    pairs = [one for one in trends if one.is_pair]
    told = [one for one in pairs or trends if one.is_down]
    if told:
        code = ("carrier-pair", Emission.WEAK) if pairs else ("carrier-alone", Emission.FALLING)
    elif any(one.is_down for one in trends):
        code = "carrier-both", Emission.UNTOLD
    else:
        code = "carrier-steady", Emission.UNTOLD
    worst = min(told or trends, key=lambda one: one.recent)
    figures = {"n": worst.points, "recent": worst.recent, "slope": worst.slope}
    at = max(one.at for one in trends)
    return Evidence(Source.CARRIER, *code, n=worst.points, at=at, figures=figures)


def statement(
    evidence: Sequence[Evidence], steps: Sequence[StepTest] = (), *, has_heater_step: bool = False
) -> Statement:
    """The worst that any source says, and what to do next.

    Parameters
    ----------
    evidence : sequence of Evidence
    steps : sequence of StepTest
        In the order of time: the next one is due after the newest.
    has_heater_step : bool
        The filament's resistance went up in a step: contact or strand, whatever else is said.

    Returns
    -------
    Statement

    Notes
    -----
    'enough' is only said by what can see the margin: a tone or a step test that is not too old.
    Where nothing does, it is 'untold', however steady the hourly readings are.

    Source
    ------
    Derived here.

    Example
    -------
    >>> statement([Evidence(Source.CARRIER, "carrier-steady")]).state.value
    'untold'
    """
    state = min((one.says for one in evidence), key=list(Emission).index, default=Emission.UNTOLD)
    decided = [one.at for one in evidence if one.says == state and one.at and is_seeing(one)]
    check = "contact" if has_heater_step else CHECKS[state]
    due = (steps[-1].hours + TEST_AGAIN_H[0], steps[-1].hours + TEST_AGAIN_H[1]) if steps else None
    return Statement(
        state=state,
        at=max(decided, default=None),
        evidence=tuple(evidence),
        check=check,
        is_inside=check in INSIDE,
        due_h=due,
    )


def is_seeing(one: Evidence) -> bool:
    """Whether its date is one at which something was seen: steady hourly readings see nothing."""
    return one.source != Source.CARRIER or one.says != Emission.UNTOLD


CHECKS = {
    Emission.WEAK: "plan-change",
    Emission.FALLING: "test-soon",
    Emission.ENOUGH: "test-later",
    Emission.UNTOLD: "test-now",
}
INSIDE = frozenset({"contact", "plan-change"})
