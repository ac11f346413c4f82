"""Heat that water and steam carry away from the anodes."""

import numpy as np

from health.formulas.arrays import Result, Values, divided, floats

# Water at 101.325 kPa by IAPWS-95, computed with iapws 1.5.5: temperature in C, density in kg/m3,
# specific heat in kJ/(kg K), enthalpy in kJ/kg; the last row is boiling water at 100 C.
WATER = np.array(
    [
        (0, 999.844, 4.2194, 0.061),
        (5, 999.967, 4.2049, 21.119),
        (10, 999.702, 4.1954, 42.119),
        (15, 999.101, 4.1891, 63.079),
        (20, 998.206, 4.1848, 84.013),
        (25, 997.048, 4.1819, 104.929),
        (30, 995.652, 4.1800, 125.834),
        (35, 994.039, 4.1789, 146.731),
        (40, 992.224, 4.1786, 167.624),
        (45, 990.223, 4.1788, 188.517),
        (50, 988.047, 4.1796, 209.413),
        (55, 985.707, 4.1809, 230.314),
        (60, 983.211, 4.1828, 251.223),
        (65, 980.566, 4.1852, 272.142),
        (70, 977.779, 4.1881, 293.075),
        (75, 974.857, 4.1915, 314.024),
        (80, 971.803, 4.1955, 334.992),
        (85, 968.622, 4.2000, 355.980),
        (90, 965.319, 4.2050, 376.993),
        (95, 961.895, 4.2106, 398.031),
        (100, 958.349, 4.2157, 419.099),
    ]
)
STEAM_ENTHALPY_KJ_KG = 2675.572  # saturated at 100 C, IAPWS-95
STEAM_DENSITY_KG_M3 = 0.59817  # the same


def water_density_kg_m3(temperature_c: Values) -> Result:
    """Density of water.

    Parameters
    ----------
    temperature_c : array_like [C]
        0 to 100.

    Returns
    -------
    ndarray [kg/m3]
        Missing outside 0 to 100 C.

    Notes
    -----
    Linear between the rows of WATER, which stand 5 K apart: within 0.01 %.

    Source
    ------
    IAPWS-95 (R6-95).

    Example
    -------
    >>> float(water_density_kg_m3(25.0))
    997.048
    """
    return of_water(temperature_c, 1)


def heat_in_water_kw(flow_l_min: Values, inlet_c: Values, outlet_c: Values) -> Result:
    """Heat that a stream of water takes up.

    Parameters
    ----------
    flow_l_min : array_like [L/min]
        By a meter of volume that stands at the inlet.
    inlet_c, outlet_c : array_like [C]
        0 to 95, single phase.

    Returns
    -------
    ndarray [kW]
        Below 0 where the outlet is colder; missing outside the range.

    Notes
    -----
    P = Q rho(T_in) (h(T_out) - h(T_in)).

    Source
    ------
    IAPWS-95 (R6-95); confirmed by iapws.

    Example
    -------
    >>> round(float(heat_in_water_kw(100.0, 30.0, 40.0)), 1)
    69.3
    """
    mass_kg_s = floats(flow_l_min) / 60 * water_density_kg_m3(inlet_c) / 1000
    return np.asarray(mass_kg_s * (of_water(outlet_c, 3) - of_water(inlet_c, 3)))


def steam_rate_kg_h(heat_kw: Values, return_c: Values) -> Result:
    """Steam that boils off when the heat goes into boiling water at 100 C.

    Parameters
    ----------
    heat_kw : array_like [kW]
    return_c : array_like [C]
        Of the condensate that comes back; 100 for a saturated one.

    Returns
    -------
    ndarray [kg/h]
        Missing where the temperature lies outside 0 to 100.

    Notes
    -----
    m = P / (h_steam - h(T_return)).

    Source
    ------
    IAPWS-95 (R6-95); confirmed by iapws.

    Example
    -------
    >>> round(float(steam_rate_kg_h(100.0, 60.0)), 2)
    148.49
    """
    rise = STEAM_ENTHALPY_KJ_KG - of_water(return_c, 3)
    return np.asarray(3600 * divided(heat_kw, rise))


def heat_in_steam_kw(steam_kg_h: Values, return_c: Values) -> Result:
    """Heat that goes away with steam: the inverse of ``steam_rate_kg_h``.

    Parameters
    ----------
    steam_kg_h : array_like [kg/h]
    return_c : array_like [C]

    Returns
    -------
    ndarray [kW]
        Missing where the temperature lies outside 0 to 100.

    Notes
    -----
    P = m (h_steam - h(T_return)).

    Source
    ------
    IAPWS-95 (R6-95).

    Example
    -------
    >>> round(float(heat_in_steam_kw(148.494, 60.0)), 2)
    100.0
    """
    rise = STEAM_ENTHALPY_KJ_KG - of_water(return_c, 3)
    return np.asarray(floats(steam_kg_h) / 3600 * rise)


def steam_volume_m3_min(steam_kg_h: Values) -> Result:
    """The volume of saturated steam at 100 C.

    Parameters
    ----------
    steam_kg_h : array_like [kg/h]

    Returns
    -------
    ndarray [m3/min]

    Notes
    -----
    V = m / rho.

    Source
    ------
    IAPWS-95 (R6-95): 0.59817 kg/m3.

    Example
    -------
    >>> round(float(steam_volume_m3_min(159.541)), 3)
    4.445
    """
    return np.asarray(floats(steam_kg_h) / 60 / STEAM_DENSITY_KG_M3)


def heat_balance(carried_kw: Values, dissipated_kw: Values) -> Result:
    """Heat that the water carries over what the electrical readings say is dissipated.

    Parameters
    ----------
    carried_kw : array_like [kW]
        In water and steam.
    dissipated_kw : array_like [kW]
        Of the anodes at the modulation of the same minutes, with the filaments that the same
        water cools.

    Returns
    -------
    ndarray [1]
        About 1; missing where the dissipation is not above 0.

    Notes
    -----
    Compare it with its own baseline: the heat that leaves through walls is not measured.

    Source
    ------
    Conservation of energy; derived here.

    Example
    -------
    >>> float(heat_balance(66.0, 60.0))
    1.1
    """
    return divided(carried_kw, dissipated_kw)


def of_water(temperature_c: Values, column: int) -> Result:
    """A column of WATER at a temperature, missing outside it."""
    rows, values = WATER[:, 0], WATER[:, column]
    return np.asarray(np.interp(floats(temperature_c), rows, values, left=np.nan, right=np.nan))
