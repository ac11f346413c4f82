"""Volts and amps along a balanced feeder without loss, and at the crest of the modulation."""

import numpy as np

from health.formulas.arrays import Result, Values, divided, floats, where


def highest_voltage_kv(output_power_kw: Values, impedance_ohm: Values, swr: Values) -> Result:
    """RMS voltage between the legs where the standing wave is highest.

    Parameters
    ----------
    output_power_kw : array_like [kW]
        Forward minus reflected.
    impedance_ohm : array_like [ohm]
        Between the legs.
    swr : array_like [1]

    Returns
    -------
    ndarray [kV]
        Missing where anything is missing, the power is below 0 or the ratio below 1.

    Notes
    -----
    V = sqrt(P Z S). At the crest of a modulation of depth m times sqrt(2) (1 + m).

    Source
    ------
    Any transmission-line handbook; the same values by scikit-rf.

    Example
    -------
    >>> round(float(highest_voltage_kv(250.0, 300.0, 2.0)), 5)
    12.24745
    """
    squared = floats(output_power_kw) * 1000 * floats(impedance_ohm) * standing(swr)
    return np.asarray(np.sqrt(where(squared >= 0, squared)) / 1000)


def lowest_voltage_kv(output_power_kw: Values, impedance_ohm: Values, swr: Values) -> Result:
    """RMS voltage between the legs where the standing wave is lowest.

    Parameters
    ----------
    output_power_kw : array_like [kW]
    impedance_ohm : array_like [ohm]
    swr : array_like [1]

    Returns
    -------
    ndarray [kV]
        Missing as in ``highest_voltage_kv``.

    Notes
    -----
    V = sqrt(P Z / S).

    Source
    ------
    Any transmission-line handbook; the same values by scikit-rf.

    Example
    -------
    >>> round(float(lowest_voltage_kv(250.0, 300.0, 2.0)), 5)
    6.12372
    """
    return divided(highest_voltage_kv(output_power_kw, impedance_ohm, swr), standing(swr))


def highest_current_a(output_power_kw: Values, impedance_ohm: Values, swr: Values) -> Result:
    """RMS current of a leg where the standing wave is highest.

    Parameters
    ----------
    output_power_kw : array_like [kW]
    impedance_ohm : array_like [ohm]
    swr : array_like [1]

    Returns
    -------
    ndarray [A]
        Missing as in ``highest_voltage_kv``, and where the impedance is not above 0.

    Notes
    -----
    I = sqrt(P S / Z).

    Source
    ------
    Any transmission-line handbook; the same values by scikit-rf.

    Example
    -------
    >>> round(float(highest_current_a(250.0, 300.0, 2.0)), 4)
    40.8248
    """
    squared = divided(floats(output_power_kw) * 1000 * standing(swr), impedance_ohm)
    return np.asarray(np.sqrt(where(squared >= 0, squared)))


def lowest_current_a(output_power_kw: Values, impedance_ohm: Values, swr: Values) -> Result:
    """RMS current of a leg where the standing wave is lowest.

    Parameters
    ----------
    output_power_kw : array_like [kW]
    impedance_ohm : array_like [ohm]
    swr : array_like [1]

    Returns
    -------
    ndarray [A]
        Missing as in ``highest_current_a``.

    Notes
    -----
    I = sqrt(P / (Z S)).

    Source
    ------
    Any transmission-line handbook; the same values by scikit-rf.

    Example
    -------
    >>> round(float(lowest_current_a(250.0, 300.0, 2.0)), 4)
    20.4124
    """
    return divided(highest_current_a(output_power_kw, impedance_ohm, swr), standing(swr))


def crest_factor(modulation_depth: Values) -> Result:
    """The peak at the crest of the envelope over the RMS of the carrier, in volts or amps.

    Parameters
    ----------
    modulation_depth : array_like [1]

    Returns
    -------
    ndarray [1]
        Missing below 0.

    Notes
    -----
    sqrt(2) (1 + m).

    Source
    ------
    Definition of amplitude modulation.

    Example
    -------
    >>> round(float(crest_factor(1.0)), 5)
    2.82843
    """
    return np.asarray(np.sqrt(2) * (1 + depth(modulation_depth)))


def rms_rise(modulation_depth: Values) -> Result:
    """RMS current or voltage under a sine over that of the carrier.

    Parameters
    ----------
    modulation_depth : array_like [1]

    Returns
    -------
    ndarray [1]
        1 to 1.2247 up to full depth; missing below 0.

    Notes
    -----
    sqrt(1 + m^2 / 2); its square is the rise of the power, (1 + m)^2 that of the crest.

    Source
    ------
    Definition of amplitude modulation; the same by a Fourier transform.

    Example
    -------
    >>> round(float(rms_rise(1.0)), 6)
    1.224745
    """
    return np.asarray(np.sqrt(1 + depth(modulation_depth) ** 2 / 2))


def depth_from_rise(current_ratio: Values) -> Result:
    """Modulation depth of a sine from the rise of a thermal ammeter.

    Parameters
    ----------
    current_ratio : array_like [1]
        Current with modulation over that of the carrier.

    Returns
    -------
    ndarray [1]
        Above 1 says over-modulation or a wrong reading; missing below a ratio of 1.

    Notes
    -----
    m = sqrt(2 ((I / I0)^2 - 1)).

    Source
    ------
    Inverse of ``rms_rise``.

    Example
    -------
    >>> round(float(depth_from_rise(1.0606602)), 4)
    0.5
    """
    squared = 2 * (floats(current_ratio) ** 2 - 1)
    return np.asarray(np.sqrt(where(squared >= 0, squared)))


def standing(swr: Values) -> Result:
    ratio = floats(swr)
    return where(ratio >= 1, ratio)


def depth(modulation_depth: Values) -> Result:
    value = floats(modulation_depth)
    return where(value >= 0, value)
