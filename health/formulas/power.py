"""Powers of the whole transmitter: by the indirect method, against the licence, from the mains."""

import numpy as np

from health.formulas.arrays import Result, Values, divided, floats


def indirect_power_kw(
    anode_voltage_kv: Values, anode_current_a: Values, efficiency_factor: Values
) -> Result:
    """Output by the indirect method: anode input times the factor of the commissioning record.

    Parameters
    ----------
    anode_voltage_kv : array_like [kV]
    anode_current_a : array_like [A]
    efficiency_factor : array_like [1]
        That of the authorised power, whatever the true efficiency is now.

    Returns
    -------
    ndarray [kW]

    Notes
    -----
    P = Ep Ip F.

    Source
    ------
    47 CFR 73.664(c) (one country's rule; a setting, never a constant).

    Example
    -------
    >>> round(float(indirect_power_kw(11.0, 28.0, 0.81)), 2)
    249.48
    """
    volts_amps = floats(anode_voltage_kv) * floats(anode_current_a)
    return np.asarray(volts_amps * floats(efficiency_factor))


def power_of_authorised_percent(power_kw: Values, authorised_kw: Values) -> Result:
    """A power in per cent of the authorised one, for the tolerance of the licence.

    Parameters
    ----------
    power_kw, authorised_kw : array_like [kW]

    Returns
    -------
    ndarray [per cent]
        Missing where the authorised power is not above 0.

    Notes
    -----
    100 P / P_authorised; 47 CFR 73.1560 allows 90 to 105, and a licence may say otherwise.

    Source
    ------
    47 CFR 73.1560(a) (one country's rule; a setting, never a constant).

    Example
    -------
    >>> round(float(power_of_authorised_percent(249.48, 250.0)), 3)
    99.792
    """
    return np.asarray(100 * divided(power_kw, authorised_kw))


def three_phase_power_kw(voltage_v: Values, current_a: Values, power_factor: Values) -> Result:
    """Power taken from a balanced three-phase supply.

    Parameters
    ----------
    voltage_v : array_like [V]
        Between lines.
    current_a : array_like [A]
        Of each line.
    power_factor : array_like [1]

    Returns
    -------
    ndarray [kW]

    Notes
    -----
    P = sqrt(3) U I cos(phi) / 1000.

    Source
    ------
    IEC 60050-131 (from memory).

    Example
    -------
    >>> round(float(three_phase_power_kw(400.0, 650.0, 0.95)), 4)
    427.8165
    """
    return np.asarray(
        np.sqrt(3) * floats(voltage_v) * floats(current_a) * floats(power_factor) / 1000
    )


def overall_efficiency(output_power_kw: Values, mains_power_kw: Values) -> Result:
    """RF over everything that the transmitter takes from the mains.

    Parameters
    ----------
    output_power_kw, mains_power_kw : array_like [kW]

    Returns
    -------
    ndarray [1]
        Missing where the mains power is not above 0.

    Notes
    -----
    eta = P_RF / P_mains.

    Source
    ------
    Conservation of energy.

    Example
    -------
    >>> round(float(overall_efficiency(250.0, 420.0)), 6)
    0.595238
    """
    return divided(output_power_kw, mains_power_kw)
