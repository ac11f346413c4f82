"""The final stage: anode input, efficiency, dissipation, balance."""

import numpy as np

from health.formulas.arrays import Result, Values, divided, floats, where


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
    return divided(output_power_kw, anode_input_kw(anode_voltage_kv, anode_current_a))


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
    return divided(output_power_kw, floats(final_input_kw) + floats(driver_input_kw))


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
    return divided(100 * (one - other), (one + other) / 2)


def tube_efficiency(
    output_power_kw: Values, anode_input_kw: Values, drive_power_kw: Values, feed_through: Values
) -> Result:
    """What the tubes themselves make of their anode input.

    Parameters
    ----------
    output_power_kw : array_like [kW]
        RF that leaves the anode circuit.
    anode_input_kw : array_like [kW]
    drive_power_kw : array_like [kW]
    feed_through : array_like [1]
        The part of the drive that reaches the output: 0 for grid drive, up to 1 for a grounded
        grid, from the commissioning record.

    Returns
    -------
    ndarray [1]
        Missing where anything is missing, the input is not above 0 or the part lies outside
        0 to 1.

    Notes
    -----
    eta = (P_out - k P_drive) / P_in.

    Source
    ------
    Conservation of energy; any handbook of transmitter tubes.

    Example
    -------
    >>> round(float(tube_efficiency(250.0, 308.0, 12.0, 0.8)), 6)
    0.780519
    """
    return divided(made_by_tubes(output_power_kw, drive_power_kw, feed_through), anode_input_kw)


def made_by_tubes(output_power_kw: Values, drive_power_kw: Values, feed_through: Values) -> Result:
    """The output without the drive that passes through.

    Parameters
    ----------
    output_power_kw, drive_power_kw : array_like [kW]
    feed_through : array_like [1]
        As in ``tube_efficiency``.

    Returns
    -------
    ndarray [kW]

    Notes
    -----
    P_gen = P_out - k P_drive.

    Source
    ------
    Conservation of energy.

    Example
    -------
    >>> round(float(made_by_tubes(250.0, 12.0, 0.8)), 1)
    240.4
    """
    part = floats(feed_through)
    valid = where((part >= 0) & (part <= 1), part)
    return np.asarray(floats(output_power_kw) - valid * floats(drive_power_kw))


def anode_dissipation_kw(
    output_power_kw: Values,
    anode_input_kw: Values,
    drive_power_kw: Values,
    feed_through: Values,
    modulation_depth: Values = 0.0,
) -> Result:
    """The heat in the anodes, on programme too.

    Parameters
    ----------
    output_power_kw, anode_input_kw : array_like [kW]
        Of the carrier.
    drive_power_kw : array_like [kW]
    feed_through : array_like [1]
        As in ``tube_efficiency``.
    modulation_depth : array_like [1]
        Depth of a sine by anode modulation, 0 to 1; of programme its RMS, times the root of 2.

    Returns
    -------
    ndarray [kW]
        Missing where anything is missing.

    Notes
    -----
    P_a = (P_in - (P_out - k P_drive)) (1 + m^2 / 2). With the drive left out of account it would
    come out too low by k P_drive.

    Source
    ------
    Conservation of energy; any handbook of transmitter tubes.

    Example
    -------
    >>> round(float(anode_dissipation_kw(250.0, 308.0, 12.0, 0.8)), 1)
    67.6
    """
    made = made_by_tubes(output_power_kw, drive_power_kw, feed_through)
    carrier = floats(anode_input_kw) - made
    return np.asarray(carrier * (1 + floats(modulation_depth) ** 2 / 2))


def modulator_power_kw(anode_input_kw: Values, modulation_depth: Values) -> Result:
    """Audio power that anode modulation by a sine takes.

    Parameters
    ----------
    anode_input_kw : array_like [kW]
    modulation_depth : array_like [1]

    Returns
    -------
    ndarray [kW]

    Notes
    -----
    P = P_in m^2 / 2.

    Source
    ------
    Any handbook of transmitter tubes.

    Example
    -------
    >>> float(modulator_power_kw(308.0, 1.0))
    154.0
    """
    return np.asarray(floats(anode_input_kw) * floats(modulation_depth) ** 2 / 2)
