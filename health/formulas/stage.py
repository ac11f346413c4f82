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
