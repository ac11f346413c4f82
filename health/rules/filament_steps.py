"""What the next filament setting of a tube is by the practice, never under the maker's minimum.

The practice: some 200 hours at the rated voltage, then 1 to 2 % down at a time until the first sign
(distortion, grid current, power), then back up a little; checked again every three months and after
changes of the mains. Source: a short-wave broadcaster's paper and tube-care notes (from memory).
Pure.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil, floor

STEP_PERCENT = (1.0, 2.0)
CHECK_AGAIN = timedelta(days=91)


@dataclass(frozen=True)
class Setting:
    """One setting as it was left; ``has_sign``: a sign of too little was seen with it."""

    at: datetime
    hours: float
    found_v: float
    left_v: float
    has_sign: bool = False


@dataclass(frozen=True)
class Makers:
    """What the register says of a tube type; ``minimum_v`` None: not entered."""

    rated_v: float
    minimum_v: float | None
    run_in_h: float


@dataclass(frozen=True)
class Advice:
    """``code`` names the sentence; ``low_v`` to ``high_v`` is what it proposes, if anything;
    ``due`` when the setting is to be checked again."""

    code: str
    low_v: float | None = None
    high_v: float | None = None
    due: datetime | None = None


def next_setting(
    settings: Sequence[Setting], hours: float, makers: Makers, *, is_emission_down: bool = False
) -> Advice:
    """The next filament setting by the practice.

    Parameters
    ----------
    settings : sequence of Setting
        Of one tube, in the order of time.
    hours : float [h]
        Its filament hours now.
    makers : Makers
    is_emission_down : bool
        Falling or weak: then no lower voltage is proposed.

    Returns
    -------
    Advice

    Notes
    -----
    Volts are rounded to 0.01 V towards each other, so that none is under the minimum.

    Source
    ------
    As the module; the waiting while emission falls is derived here.

    Example
    -------
    >>> next_setting([], 5000.0, Makers(12.0, 11.4, 200.0))
    Advice(code='down', low_v=11.76, high_v=11.88, due=None)
    """
    newest = settings[-1] if settings else None
    due = newest.at + CHECK_AGAIN if newest else None
    least, stands = makers.minimum_v, newest.left_v if newest else makers.rated_v
    if least is None:
        return Advice("no-minimum", due=due)
    if stands < least:
        return Advice("raise", *proposed(least, makers.rated_v), due)
    if newest and newest.has_sign:
        return back_up(stands, makers.rated_v, due)
    if is_emission_down:
        return Advice("no-lower", due=due)
    if hours < makers.run_in_h:
        return Advice("run-in", due=due)
    if any(one.has_sign for one in settings):
        return Advice("hold", due=due)
    return down(stands, least, due)


def back_up(stands: float, rated: float, due: datetime | None) -> Advice:
    if stands >= rated:
        return Advice("sign-at-rated", due=due)
    low, high = (min(stands * (1 + percent / 100), rated) for percent in STEP_PERCENT)
    return Advice("back-up", *proposed(low, high), due)


def down(stands: float, least: float, due: datetime | None) -> Advice:
    high, low = (stands * (1 - percent / 100) for percent in STEP_PERCENT)
    if high < least:
        return Advice("at-minimum", due=due)
    return Advice("down", *proposed(max(low, least), high), due)


def proposed(low: float, high: float) -> tuple[float, float]:
    """Hundredths of a volt inside the two; what rounding alone would take off is kept."""
    return ceil(low * 100 - 1e-6) / 100, floor(high * 100 + 1e-6) / 100
