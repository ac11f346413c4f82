"""The final stage: anode input and efficiency."""

import numpy as np

from health.formulas.rf import Result, Values, floats


def anode_input_kw(anode_voltage_kv: Values, anode_current_a: Values) -> Result:
    """DC power into the anodes.

    Parameters
    ----------
    anode_voltage_kv : array_like [kV]
    anode_current_a : array_like [A]
        Sum of the stage's tubes, without grid current.

    Returns
    -------
    ndarray [kW]
        Missing where either is missing.

    Notes
    -----
    P = V I.

    Source
    ------
    Conservation of energy; any handbook of transmitter tubes.

    Example
    -------
    >>> float(anode_input_kw(11.0, 28.0))
    308.0
    """
    return np.asarray(floats(anode_voltage_kv) * floats(anode_current_a))


def anode_current_from_cathode_a(cathode_current_a: Values, grid_current_a: Values) -> Result:
    """Anode current where the meter stands in the cathode lead and so reads the grid's too.

    Parameters
    ----------
    cathode_current_a, grid_current_a : array_like [A]
        Same shape.

    Returns
    -------
    ndarray [A]
        Missing where either is missing.

    Notes
    -----
    Ia = Ik - Ig (a triode, or the screen counted with the grid).

    Source
    ------
    Kirchhoff's current law.

    Example
    -------
    >>> round(float(anode_current_from_cathode_a(13.60, 1.15)), 2)
    12.45
    """
    return np.asarray(floats(cathode_current_a) - floats(grid_current_a))


def apparent_efficiency(
    output_power_kw: Values, anode_voltage_kv: Values, anode_current_a: Values
) -> Result:
    """Output over anode input, the drive that passes through a grounded grid left in.

    Parameters
    ----------
    output_power_kw : array_like [kW]
        Forward minus reflected.
    anode_voltage_kv : array_like [kV]
    anode_current_a : array_like [A]
        Sum of the stage's tubes, without grid current.

    Returns
    -------
    ndarray [1]
        Missing where anything is missing or the anode input is not above 0. About 0.8 for a
        grounded-grid final; higher than its true efficiency by the drive that passes through.

    Notes
    -----
    eta = P_out / (V_a I_a). Compare only readings of one wave, antenna and power.

    Source
    ------
    Conservation of energy; any handbook of transmitter tubes.

    Example
    -------
    >>> round(float(apparent_efficiency(250.0, 11.0, 28.0)), 6)
    0.811688
    """
    put_in = anode_input_kw(anode_voltage_kv, anode_current_a)
    output = floats(output_power_kw)
    missing = np.full(np.broadcast(output, put_in).shape, np.nan)
    return np.asarray(np.divide(output, put_in, out=missing, where=put_in > 0))


def efficiency_with_driver(
    output_power_kw: Values, final_input_kw: Values, driver_input_kw: Values
) -> Result:
    """Output over the anode inputs of the final and its driver together.

    Parameters
    ----------
    output_power_kw : array_like [kW]
        Forward minus reflected.
    final_input_kw, driver_input_kw : array_like [kW]
        DC power into the anodes of either stage.

    Returns
    -------
    ndarray [1]
        Missing where anything is missing or the inputs are not above 0. Below the apparent
        efficiency, and not deceived by a drive that falls.

    Notes
    -----
    eta = P_out / (P_final + P_driver).

    Source
    ------
    Conservation of energy; derived here.

    Example
    -------
    >>> round(float(efficiency_with_driver(200.0, 249.0, 36.0)), 4)
    0.7018
    """
    put_in = floats(final_input_kw) + floats(driver_input_kw)
    output = floats(output_power_kw)
    missing = np.full(np.broadcast(output, put_in).shape, np.nan)
    return np.asarray(np.divide(output, put_in, out=missing, where=put_in > 0))


def pair_balance_points(first: Values, second: Values) -> Result:
    """How far one tube of a pair reads above the other, in points of their mean.

    Parameters
    ----------
    first, second : array_like [any one unit]
        The same meter of the two tubes; same shape.

    Returns
    -------
    ndarray [per cent of the mean]
        Above 0 where the first reads more. Missing where either is missing or the mean is not
        above 0.

    Notes
    -----
    D = (x1 - x2) / ((x1 + x2) / 2) * 100.

    Source
    ------
    Derived here; common practice, no source.

    Example
    -------
    >>> round(float(pair_balance_points(14.5, 13.5)), 4)
    7.1429
    """
    one, other = floats(first), floats(second)
    mean = (one + other) / 2
    missing = np.full(np.broadcast(one, other).shape, np.nan)
    return np.asarray(np.divide(100 * (one - other), mean, out=missing, where=mean > 0))
