"""Reflection on a feeder: ratio, standing wave ratio, losses, power into the feeder."""

import numpy as np

from health.formulas.arrays import Result, Values, divided, floats, where


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
    return where(is_valid, divided(reflected, forward))


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


def mismatch_loss_db(forward_power: Values, reflected_power: Values) -> Result:
    """What the reflection takes from the forward power.

    Parameters
    ----------
    forward_power, reflected_power : array_like [any one unit of power]
        Same shape; NaN is missing.

    Returns
    -------
    ndarray [dB]
        0 or more; missing as in ``reflection_ratio``.

    Notes
    -----
    ML = -10 log10(1 - Pr / Pf).

    Source
    ------
    IEC 60050-726 (from memory).

    Example
    -------
    >>> round(float(mismatch_loss_db(250.0, 10.0)), 5)
    0.17729
    """
    return np.asarray(-10 * np.log10(1 - reflection_ratio(forward_power, reflected_power)))


def ratio_from_swr(swr: Values) -> Result:
    """Reflected over forward power from a standing wave ratio.

    Parameters
    ----------
    swr : array_like [1]

    Returns
    -------
    ndarray [1]
        From 0 to below 1; missing below 1.

    Notes
    -----
    |G| = (S - 1) / (S + 1); Pr / Pf = |G|^2.

    Source
    ------
    IEC 60050-726 (from memory).

    Example
    -------
    >>> round(float(ratio_from_swr(1.5)), 12)
    0.04
    """
    standing = floats(swr)
    return where(standing >= 1, ((standing - 1) / (standing + 1)) ** 2)


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


def level_dbw(power_w: Values) -> Result:
    """A power as a level over one watt.

    Parameters
    ----------
    power_w : array_like [W]

    Returns
    -------
    ndarray [dBW]
        Missing where the power is not above 0.

    Notes
    -----
    L = 10 log10(P / 1 W); 30 more over one milliwatt.

    Source
    ------
    IEC 60027-3 (from memory); the same values by scikit-rf.

    Example
    -------
    >>> round(float(level_dbw(250e3)), 4)
    53.9794
    """
    power = floats(power_w)
    return np.asarray(10 * np.log10(where(power > 0, power)))
