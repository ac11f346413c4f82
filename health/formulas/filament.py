"""The filament: power, hot resistance, and what they say of its temperature."""

import numpy as np

from health.formulas.arrays import Result, Values, divided, floats

# Resistivity of tungsten over that at 300 K, by temperature in K. Source: the table attributed to
# Forsythe and Worthing, Astrophysical Journal 61 (1925) 146.
TUNGSTEN = np.array(
    [
        *[(300, 1.0), (400, 1.4265), (500, 1.8690), (600, 2.3416), (700, 2.8478)],
        *[(800, 3.3628), (900, 3.8832), (1000, 4.4124), (1100, 4.9451), (1200, 5.4832)],
        *[(1300, 6.0319), (1400, 6.5823), (1500, 7.1434), (1600, 7.7080), (1700, 8.2796)],
        *[(1800, 8.8584), (1900, 9.4425), (2000, 10.0301), (2100, 10.6301), (2200, 11.2354)],
        *[(2300, 11.8425), (2400, 12.4584), (2500, 13.0814), (2600, 13.7150), (2700, 14.3434)],
        *[(2800, 14.9912), (2900, 15.6336), (3000, 16.2903), (3100, 16.9487), (3200, 17.6177)],
        *[(3300, 18.2832), (3400, 18.9735), (3500, 19.6637), (3600, 20.3540)],
    ]
)


def filament_power_w(filament_voltage_v: Values, filament_current_a: Values) -> Result:
    """Power that heats a filament.

    Parameters
    ----------
    filament_voltage_v : array_like [V]
        True RMS at the tube.
    filament_current_a : array_like [A]
        RMS.

    Returns
    -------
    ndarray [W]

    Notes
    -----
    P = V I.

    Source
    ------
    Conservation of energy.

    Example
    -------
    >>> float(filament_power_w(12.0, 120.0))
    1440.0
    """
    return np.asarray(floats(filament_voltage_v) * floats(filament_current_a))


def hot_resistance_ohm(filament_voltage_v: Values, filament_current_a: Values) -> Result:
    """Resistance of a burning filament, its leads and clips with it.

    Parameters
    ----------
    filament_voltage_v : array_like [V]
    filament_current_a : array_like [A]

    Returns
    -------
    ndarray [ohm]
        Missing where no current flows. A step up at the same voltage is a strand or a contact.

    Notes
    -----
    R = V / I.

    Source
    ------
    Ohm's law.

    Example
    -------
    >>> float(hot_resistance_ohm(12.0, 120.0))
    0.1
    """
    return divided(filament_voltage_v, filament_current_a)


def resistance_ratio(temperature_k: Values) -> Result:
    """Resistivity of tungsten over that at 300 K.

    Parameters
    ----------
    temperature_k : array_like [K]
        300 to 3600.

    Returns
    -------
    ndarray [1]
        Missing outside the table. A measured resistance ratio lies about 1 % below it at 2000 K,
        because the wire grows longer and thicker (from memory).

    Notes
    -----
    Linear between the rows of TUNGSTEN.

    Source
    ------
    As TUNGSTEN.

    Example
    -------
    >>> float(resistance_ratio(2000.0))
    10.0301
    """
    rows, values = TUNGSTEN[:, 0], TUNGSTEN[:, 1]
    return np.asarray(np.interp(floats(temperature_k), rows, values, left=np.nan, right=np.nan))


def temperature_from_ratio_k(ratio: Values) -> Result:
    """Temperature of tungsten from its resistivity over that at 300 K.

    Parameters
    ----------
    ratio : array_like [1]

    Returns
    -------
    ndarray [K]
        Missing outside the table. Carburised wire is colder than it says: take the tube's own
        first day for its baseline.

    Notes
    -----
    Inverse of ``resistance_ratio``.

    Source
    ------
    As TUNGSTEN.

    Example
    -------
    >>> round(float(temperature_from_ratio_k(10.0)), 1)
    1994.9
    """
    rows, values = TUNGSTEN[:, 1], TUNGSTEN[:, 0]
    return np.asarray(np.interp(floats(ratio), rows, values, left=np.nan, right=np.nan))


def life_factor(voltage_ratio: Values, exponent: Values) -> Result:
    """How much longer a filament lasts at another voltage, by an exponent that somebody chose.

    Parameters
    ----------
    voltage_ratio : array_like [1]
        Voltage over the rated one.
    exponent : array_like [1]
        There is none that holds for thoriated tungsten: without one nothing is said.

    Returns
    -------
    ndarray [1]
        Missing where either is missing or the ratio is not above 0.

    Notes
    -----
    (V / V_rated)^-n, a rule of thumb and no law; never below the maker's minimum.

    Source
    ------
    Common practice, no source; about 13 is quoted for pure tungsten (from memory).

    Example
    -------
    >>> round(float(life_factor(0.95, 13.0)), 3)
    1.948
    """
    inverse = divided(1.0, voltage_ratio)
    return np.asarray(inverse ** floats(exponent))


def lowered_power_w(power_w: Values, voltage_ratio: Values) -> tuple[Result, Result]:
    """Between what powers a filament lies that burns at less than its rated voltage.

    Parameters
    ----------
    power_w : array_like [W]
        At the rated voltage.
    voltage_ratio : array_like [1]
        Voltage over the rated one, 0 to 1.

    Returns
    -------
    tuple of ndarray [W]
        The least and the most.

    Notes
    -----
    A colder wire has less resistance, so its current falls by less than the voltage: the power is
    above ratio^2 P. The current falls all the same, so it is below ratio P.

    Source
    ------
    Derived here, from Ohm's law and the resistivity's rise with the temperature.

    Example
    -------
    >>> [round(float(one), 1) for one in lowered_power_w(4320.0, 0.8)]
    [2764.8, 3456.0]
    """
    power, ratio = floats(power_w), floats(voltage_ratio)
    return np.asarray(power * ratio**2), np.asarray(power * ratio)
