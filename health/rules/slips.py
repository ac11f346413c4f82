"""What a value far from its expected one may have been meant as. Pure.

Offered, never applied: whoever typed it decides.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from health.rules.expected import Expected

NEAR_SIGMAS = 3.0
FACTORS = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)
RATIO_WITHIN, NEAR_ONE = 0.05, 0.06
"""How near the ratios of meters must lie to be one cause: common practice, no source."""
FEWEST_WITH_ONE_RATIO = 4
SWAPPED, DECIMAL, TURNED, DIGIT, INVERSE = "swapped", "decimal", "turned", "digit", "inverse"


@dataclass(frozen=True)
class Slip:
    """``kind`` is one of the words above, or '' where nothing fits; ``offer`` is None then."""

    kind: str
    offer: float | None


def is_far(value: float, expected: Expected) -> bool:
    """Outside its own scatter by so much that it is looked at again; one step never is."""
    return abs(value - expected.value) > expected.reach


def slip_of(
    value: float, decimals: int, expected: Expected, step: float, *, is_inverse_unit: bool = False
) -> Slip:
    """The simplest slip of a hand that would have made this value of one that fits.

    Parameters
    ----------
    value : float [the meter's unit]
        As typed, far from what is expected.
    decimals : int
        With which the meter is read.
    expected : Expected [the same unit]
    step : float [the same unit]
    is_inverse_unit : bool
        Whether the inverse of the unit is in use too: conductivity and resistivity.

    Returns
    -------
    Slip
        Tried in the order decimal point, two digits turned round, inverse unit, one digit.

    Notes
    -----
    A candidate fits when it lies within three sigma, or one step, of what is expected.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> slip_of(1.03, 2, Expected(1.30, 0.02, 0.08), 0.02)
    Slip(kind='turned', offer=1.3)
    """
    reach = max(NEAR_SIGMAS * expected.sigma, step)
    for kind, candidates in (
        (DECIMAL, decimal_points(value)),
        (TURNED, turned(value, decimals)),
        (INVERSE, inverse(value) if is_inverse_unit else ()),
        (DIGIT, one_digit(value, decimals)),
    ):
        near = [one for one in candidates if abs(one - expected.value) <= reach]
        if near:
            return Slip(kind, min(near, key=lambda one: abs(one - expected.value)))
    return Slip("", None)


def decimal_points(value: float) -> Iterator[float]:
    for factor in FACTORS:
        yield round(value * factor, 9)


def turned(value: float, decimals: int) -> Iterator[float]:
    """Two neighbouring digits exchanged."""
    text = f"{abs(value):.{decimals}f}"
    places = [place for place, sign in enumerate(text) if sign.isdigit()]
    for one, other in pairwise(places):
        signs = list(text)
        signs[one], signs[other] = signs[other], signs[one]
        if signs != list(text):
            yield float(np.copysign(float("".join(signs)), value))


def one_digit(value: float, decimals: int) -> Iterator[float]:
    """One digit written for another."""
    text = f"{abs(value):.{decimals}f}"
    for place, sign in enumerate(text):
        if sign.isdigit():
            for digit in "0123456789":
                if digit != sign:
                    other = float(text[:place] + digit + text[place + 1 :])
                    yield float(np.copysign(other, value))


def inverse(value: float) -> Iterator[float]:
    """A resistivity in a field for conductivity, or the other way round."""
    if value > 0:
        yield 1 / value


def is_swapped(first: float, second: float, expected: Expected, of_second: Expected) -> bool:
    """Whether the two values of a pair each fit the other's place, and not their own."""
    own = is_far(first, expected) and is_far(second, of_second)
    crossed = is_far(first, of_second) or is_far(second, expected)
    return own and not crossed


def common_ratio(ratios: npt.ArrayLike) -> float | None:
    """The ratio to what is expected that most meters share, None where they do not.

    Parameters
    ----------
    ratios : array_like of float [1]
        Of the meters that go with the power, each over its expected value.

    Returns
    -------
    float or None [1]
        None unless FEWEST_WITH_ONE_RATIO meters, and two of three of all, lie within
        RATIO_WITHIN of their median, and that is further than NEAR_ONE from 1.

    Notes
    -----
    Half of the power makes 0.71 of every current and voltage that goes with it.

    Source
    ------
    Derived here: k = sqrt(P / P_full) for a power set by the HT tap.

    Example
    -------
    >>> round(common_ratio([0.63, 0.635, 0.628, 0.632, 1.0]), 2)
    0.63
    """
    values = np.sort(np.asarray(ratios, dtype=np.float64))
    if values.size < FEWEST_WITH_ONE_RATIO:
        return None
    middle = float(values[(values.size - 1) // 2] + values[values.size // 2]) / 2
    if abs(middle - 1) <= NEAR_ONE:
        return None
    together = np.abs(values / middle - 1) <= RATIO_WITHIN
    is_one_cause = together.sum() >= max(FEWEST_WITH_ONE_RATIO, 2 * values.size / 3)
    return middle if is_one_cause else None
