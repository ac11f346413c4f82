"""Reflection on a feeder: ratio, standing wave ratio, return loss, power into the feeder."""

import numpy as np
import numpy.typing as npt

Values = npt.ArrayLike
Result = npt.NDArray[np.float64]


def reflection_ratio(forward_power: Values, reflected_power: Values) -> Result:
    """Reflected over forward power, in the range 0 to below 1.

    Parameters
    ----------
    forward_power, reflected_power : array_like [any one unit of power]
        Same shape; NaN is missing.

    Returns
    -------
    ndarray [1]
        Missing where either is missing, forward is not above 0, reflected is below 0, or
        reflected is not below forward (a meter fault, not a reflection).

    Notes
    -----
    Pr / Pf = |G|^2.

    Source
    ------
    IEC 60050-726, definitions of reflection coefficient (from memory).

    Example
    -------
    >>> float(reflection_ratio(250.0, 10.0))
    0.04
    """
    forward, reflected = floats(forward_power), floats(reflected_power)
    is_valid = (forward > 0) & (reflected >= 0) & (reflected < forward)
    return np.divide(reflected, forward, out=np.full_like(forward, np.nan), where=is_valid)


def swr(forward_power: Values, reflected_power: Values) -> Result:
    """Standing wave ratio from forward and reflected power.

    Parameters
    ----------
    forward_power, reflected_power : array_like [any one unit of power]
        Same shape; NaN is missing.

    Returns
    -------
    ndarray [1]
        1 or more; missing as in ``reflection_ratio``.

    Notes
    -----
    |G| = sqrt(Pr / Pf); S = (1 + |G|) / (1 - |G|).

    Source
    ------
    IEC 60050-726 (from memory); the same values by scikit-rf.

    Example
    -------
    >>> round(float(swr(250.0, 10.0)), 12)
    1.5
    """
    magnitude = np.sqrt(reflection_ratio(forward_power, reflected_power))
    return np.asarray((1 + magnitude) / (1 - magnitude))


def return_loss_db(forward_power: Values, reflected_power: Values) -> Result:
    """Return loss.

    Parameters
    ----------
    forward_power, reflected_power : array_like [any one unit of power]
        Same shape; NaN is missing.

    Returns
    -------
    ndarray [dB]
        Above 0; missing as in ``reflection_ratio`` and where nothing is reflected, because an
        infinite loss is not a number to print.

    Notes
    -----
    RL = -10 log10(Pr / Pf).

    Source
    ------
    IEC 60050-726 (from memory); the same values by scikit-rf.

    Example
    -------
    >>> round(float(return_loss_db(250.0, 10.0)), 4)
    13.9794
    """
    ratio = reflection_ratio(forward_power, reflected_power)
    return np.asarray(-10 * np.log10(np.where(ratio > 0, ratio, np.nan)))


def output_power(forward_power: Values, reflected_power: Values) -> Result:
    """Power into the feeder: forward minus reflected.

    Parameters
    ----------
    forward_power, reflected_power : array_like [any one unit of power]
        Same shape; NaN is missing.

    Returns
    -------
    ndarray [the same unit]
        Missing as in ``reflection_ratio``.

    Notes
    -----
    P = Pf - Pr on a line without loss.

    Source
    ------
    Conservation of energy; any transmission-line handbook.

    Example
    -------
    >>> float(output_power(250.0, 10.0))
    240.0
    """
    ratio = reflection_ratio(forward_power, reflected_power)
    return np.asarray(floats(forward_power) * (1 - ratio))


def floats(values: Values) -> Result:
    return np.asarray(values, dtype=np.float64)
