"""Centre and scatter that a few wrong readings do not move. Pure."""

import numpy as np
import numpy.typing as npt

Values = npt.ArrayLike
Numbers = npt.NDArray[np.float64]

TO_SIGMA = 1.4826022185056018
"""A normal distribution's sigma over its median absolute deviation: 1 / Phi^-1(3/4)."""
CLIP_SIGMAS = 3.0
CLIP_ROUNDS = 10


def numbers(values: Values) -> Numbers:
    """The values as one row without what is missing."""
    row = np.asarray(values, dtype=np.float64).ravel()
    return row[~np.isnan(row)]


def median_absolute_deviation(values: Values) -> float:
    """Median distance from the median.

    Parameters
    ----------
    values : array_like [any one unit]
        NaN is missing.

    Returns
    -------
    float [the same unit]
        0 or more; NaN without a value.

    Notes
    -----
    MAD = median |x - median x|.

    Source
    ------
    NIST/SEMATECH e-Handbook 1.3.5.6; the same values by scipy.

    Example
    -------
    >>> median_absolute_deviation([2, 3, 3, 4, 5, 6, 100])
    1.0
    """
    row = numbers(values)
    return float(np.median(np.abs(row - np.median(row)))) if row.size else float("nan")


def robust_sigma(values: Values) -> float:
    """Sigma from the median absolute deviation.

    Parameters
    ----------
    values : array_like [any one unit]

    Returns
    -------
    float [the same unit]
        NaN where more than half of the values are equal: nothing may be divided by it.

    Notes
    -----
    1.4826 MAD. On coarse meters it jumps by whole steps: see ``clipped_centre``.

    Source
    ------
    NIST/SEMATECH e-Handbook 1.3.5.6.

    Example
    -------
    >>> round(robust_sigma([2, 3, 3, 4, 5, 6, 100]), 4)
    1.4826
    """
    deviation = median_absolute_deviation(values)
    return TO_SIGMA * deviation if deviation > 0 else float("nan")


def clipped_centre(values: Values, step: float) -> tuple[float, float]:
    """Mean and sigma of what is left when far values are clipped away, for coarse meters.

    Parameters
    ----------
    values : array_like [any one unit]
        NaN is missing.
    step : float [the same unit]
        Smallest step of the meter, >= 0.

    Returns
    -------
    centre, sigma : float [the same unit]
        NaN without a value. Sigma is never below half a step: a difference of one step is
        nothing.

    Notes
    -----
    From the median on, what lies further than 3 sigma (at least two steps) is left out, again
    until nothing changes. The median of coarse readings is biased by up to half a step, their
    quantiles jump by whole ones; the mean and the standard deviation are not.

    Source
    ------
    Sigma clipping, common practice, no source; the bound by half a step derived here.

    Example
    -------
    >>> centre, sigma = clipped_centre([12.4, 12.4, 12.6, 12.4, 12.6, 124.0], step=0.2)
    >>> round(centre, 2), round(sigma, 2)
    (12.48, 0.11)
    """
    row = numbers(values)
    if not row.size:
        return float("nan"), float("nan")
    centre, sigma = float(np.median(row)), max(or_zero(robust_sigma(row)), step)
    kept = row
    for _attempt in range(CLIP_ROUNDS):
        inside = row[np.abs(row - centre) <= max(CLIP_SIGMAS * sigma, 2 * step)]
        if inside.size:
            centre, sigma = float(inside.mean()), max(spread(inside), step / 2)
        if inside.size == kept.size:
            break
        kept = inside
    return centre, sigma


def or_zero(sigma: float) -> float:
    return 0.0 if np.isnan(sigma) else sigma


def spread(row: Numbers) -> float:
    """Standard deviation of a sample, 0 of fewer than two."""
    return float(row.std(ddof=1)) if row.size > 1 else 0.0


def censored_sigma(values: Values, step: float) -> float:
    """Sigma of what stands behind readings that were rounded to whole steps.

    Parameters
    ----------
    values : array_like [any one unit]
    step : float [the same unit]

    Returns
    -------
    float [the same unit]
        0 or more: what the rounding itself would give is taken out. NaN without two values.

    Notes
    -----
    sigma^2 = s^2 - step^2 / 12 (Sheppard's correction), not below 0.

    Source
    ------
    Sheppard's correction for grouping; any handbook of statistics.

    Example
    -------
    >>> round(censored_sigma([12.4, 12.6, 12.4, 12.8, 12.6], step=0.2), 3)
    0.157
    """
    row = numbers(values)
    if row.size < 2:
        return float("nan")
    return float(np.sqrt(max(spread(row) ** 2 - step**2 / 12, 0.0)))


def working_sigma(values: Values, step: float) -> float:
    """The scatter by which a meter is judged.

    Parameters
    ----------
    values : array_like [any one unit]
    step : float [the same unit]

    Returns
    -------
    float [the same unit]
        The largest of the robust sigma, the one behind the rounding and half a step; NaN
        without two values.

    Notes
    -----
    A few wrong readings do not widen the robust one, equal readings do not make it zero.

    Source
    ------
    Derived here.

    Example
    -------
    >>> working_sigma([12.4, 12.4, 12.4, 12.4], step=0.2)
    0.1
    """
    row = numbers(values)
    if row.size < 2:
        return float("nan")
    centre, clipped = clipped_centre(row, step)
    near = row[np.abs(row - centre) <= max(CLIP_SIGMAS * clipped, 2 * step)]
    return max(or_zero(robust_sigma(near)), or_zero(censored_sigma(near, step)), step / 2)
