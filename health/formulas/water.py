"""De-ionised water: conductivity, its temperature, and the current through a hose of it."""

import numpy as np

from health.formulas.arrays import Result, Values, divided, floats, where

# Conductivity of pure water in uS/cm by temperature in C. Source: its form after Light and others
# (2005) with the ionisation constant of iapws; 25 and 100 C after Morash and others (1994).
PURE_WATER = np.array(
    [
        (0, 0.0111),
        (18, 0.03725),
        (25, 0.05501),
        (35, 0.09054),
        (45, 0.14065),
        (55, 0.20826),
        (100, 0.7728),
    ]
)
REFERENCE_C = 25.0
LINEAR_FROM_C, LINEAR_TO_C = 15.0, 35.0
USUAL_PER_K = 0.02
"""Of dissolved salts, 0.019 to 0.022; common practice."""


def resistivity_mohm_cm(conductivity_us_cm: Values) -> Result:
    """Resistivity of water from its conductivity, and the other way round: the same formula.

    Parameters
    ----------
    conductivity_us_cm : array_like [uS/cm]

    Returns
    -------
    ndarray [Mohm.cm]
        Missing where it is not above 0.

    Notes
    -----
    rho = 1 / kappa.

    Source
    ------
    Definition; 0.055 uS/cm is 18.18 Mohm.cm.

    Example
    -------
    >>> round(float(resistivity_mohm_cm(0.055)), 2)
    18.18
    """
    return divided(1.0, conductivity_us_cm)


def conductivity_at_25_us_cm(
    conductivity_us_cm: Values, temperature_c: Values, per_k: Values = USUAL_PER_K
) -> Result:
    """Conductivity as it would be at 25 C, by the linear law of dissolved salts.

    Parameters
    ----------
    conductivity_us_cm : array_like [uS/cm]
        As read, not compensated.
    temperature_c : array_like [C]
    per_k : array_like [1/K]

    Returns
    -------
    ndarray [uS/cm]
        Missing where the law's denominator is not above 0. ``is_compensation_doubtful`` says
        where the law does not hold.

    Notes
    -----
    k25 = kT / (1 + a (T - 25)). Not for water near the pure one: see
    ``impurity_at_25_us_cm``.

    Source
    ------
    ISO 7888 (from memory); instrument practice.

    Example
    -------
    >>> round(float(conductivity_at_25_us_cm(1.0, 20.0)), 6)
    1.111111
    """
    return divided(conductivity_us_cm, 1 + floats(per_k) * (floats(temperature_c) - REFERENCE_C))


def is_compensation_doubtful(temperature_c: Values) -> np.ndarray:
    """Where the linear law may be wrong by more than some per cent.

    Parameters
    ----------
    temperature_c : array_like [C]

    Returns
    -------
    ndarray of bool
        True outside 15 to 35 C, and where the temperature is missing.

    Notes
    -----
    A standard solution of potassium chloride with a = 0.0195 per K comes back within 0.6 % from
    15 to 35 C, at 0 C it is wrong by 23 %.

    Source
    ------
    A laboratory meter's table of the 84 uS/cm standard.

    Example
    -------
    >>> [bool(is_compensation_doubtful(t)) for t in (0.0, 20.0, 60.0)]
    [True, False, True]
    """
    temperature = floats(temperature_c)
    return ~((temperature >= LINEAR_FROM_C) & (temperature <= LINEAR_TO_C))


def pure_water_us_cm(temperature_c: Values) -> Result:
    """Conductivity of pure water: nothing can be below it.

    Parameters
    ----------
    temperature_c : array_like [C]
        0 to 100.

    Returns
    -------
    ndarray [uS/cm]
        Missing outside 0 to 100 C.

    Notes
    -----
    Its logarithm is linear between the rows of PURE_WATER: within 2 %, 5 % near 0 C.

    Source
    ------
    As PURE_WATER.

    Example
    -------
    >>> round(float(pure_water_us_cm(25.0)), 5)
    0.05501
    """
    rows, values = PURE_WATER[:, 0], np.log(PURE_WATER[:, 1])
    found = np.interp(floats(temperature_c), rows, values, left=np.nan, right=np.nan)
    return np.asarray(np.exp(found))


def impurity_at_25_us_cm(
    conductivity_us_cm: Values, temperature_c: Values, per_k: Values = USUAL_PER_K
) -> Result:
    """Conductivity at 25 C of water that is nearly pure: the water's own part has its own law.

    Parameters
    ----------
    conductivity_us_cm : array_like [uS/cm]
    temperature_c : array_like [C]
    per_k : array_like [1/K]

    Returns
    -------
    ndarray [uS/cm]
        Missing where the reading is below that of pure water: the cell is wrong.

    Notes
    -----
    k25 = kp(25) + (kT - kp(T)) / (1 + a (T - 25)).

    Source
    ------
    Light and others, Electrochemical and Solid-State Letters 8 (2005), the form.

    Example
    -------
    >>> round(float(impurity_at_25_us_cm(0.3, 45.0)), 4)
    0.1688
    """
    own = pure_water_us_cm(temperature_c)
    salts = floats(conductivity_us_cm) - own
    at_25 = conductivity_at_25_us_cm(where(salts >= 0, salts), temperature_c, per_k)
    return np.asarray(pure_water_us_cm(REFERENCE_C) + at_25)


def hose_resistance_mohm(length_m: Values, bore_mm: Values, conductivity_us_cm: Values) -> Result:
    """Resistance of the water in one hose.

    Parameters
    ----------
    length_m : array_like [m]
    bore_mm : array_like [mm]
        Inner diameter.
    conductivity_us_cm : array_like [uS/cm]
        At the water's temperature, not at 25 C.

    Returns
    -------
    ndarray [Mohm]
        Missing where the bore or the conductivity is not above 0.

    Notes
    -----
    R = L / (kappa pi d^2 / 4).

    Source
    ------
    Ohm's law.

    Example
    -------
    >>> round(float(hose_resistance_mohm(1.0, 25.0, 1.0)), 5)
    20.37183
    """
    area_m2 = np.pi * (floats(bore_mm) / 1000) ** 2 / 4
    siemens_per_m = floats(conductivity_us_cm) * 1e-4
    return np.asarray(divided(length_m, siemens_per_m * area_m2) / 1e6)


def leakage_current_ma(
    voltage_kv: Values,
    length_m: Values,
    bore_mm: Values,
    conductivity_us_cm: Values,
    hoses: int = 1,
) -> Result:
    """Direct current through the water of equal hoses side by side.

    Parameters
    ----------
    voltage_kv : array_like [kV]
    length_m, bore_mm, conductivity_us_cm : array_like [m, mm, uS/cm]
        As in ``hose_resistance_mohm``.
    hoses : int [1]
        Two for inlet and outlet.

    Returns
    -------
    ndarray [mA]
        Missing as in ``hose_resistance_mohm``.

    Notes
    -----
    I = n V / R.

    Source
    ------
    Ohm's law.

    Example
    -------
    >>> round(float(leakage_current_ma(10.0, 1.0, 25.0, 1.0)), 5)
    0.49087
    """
    one = divided(voltage_kv, hose_resistance_mohm(length_m, bore_mm, conductivity_us_cm))
    return np.asarray(hoses * one)
