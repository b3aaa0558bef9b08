"""Moist air: vapour pressure, dew and frost point, wet bulb, water content.

Relative humidity here is over liquid water at every temperature, as sensors report it
(WMO convention); below 0 °C several libraries mean it over ice. Every function takes
figures or arrays that broadcast, and returns the broadcast shape.

References
----------
Hyland & Wexler 1983, in ASHRAE Handbook Fundamentals, ch. 1, eqs 5 and 6 (saturation
over ice and water), eqs 20, 33 and 35 (humidity ratio, wet bulb).
"""

from typing import Final

import numpy as np

from monitor.science.checking import Figures, Floats, within

STANDARD_PRESSURE_PA: Final = 101_325.0
LEAST_C: Final = -40.0
GREATEST_C: Final = 100.0
_KELVIN: Final = 273.15
_R_VAPOUR: Final = 461.5227  # gas constant of water vapour [J/(kg K)]
_MASS_RATIO: Final = 0.621945  # molar mass of water to that of dry air


def _ln_water(k: Floats) -> Floats:
    """Return ln of saturation pressure over water; ASHRAE eq. 6. [ln Pa]"""
    return np.asarray(
        -5800.2206 / k
        + 1.3914993
        + k * (-0.048640239 + k * (4.1764768e-5 - 1.4452093e-8 * k))
        + 6.5459673 * np.log(k)
    )


def _ln_ice(k: Floats) -> Floats:
    """Return ln of saturation pressure over ice; ASHRAE eq. 5. [ln Pa]"""
    return np.asarray(
        -5674.5359 / k
        + 6.3925247
        + k * (-0.009677843 + k * (6.2215701e-7 + k * (2.0747825e-9 - 9.484024e-13 * k)))
        + 4.1635019 * np.log(k)
    )


def saturation_over_water_pa(temperature_c: Figures) -> Floats:
    """Return the saturation vapour pressure over liquid water. [Pa]

    Parameters
    ----------
    temperature_c : float or ndarray
        -40 to 100; below 0 over supercooled water, as relative humidity is meant. [°C]

    Raises
    ------
    OutOfRangeError
        If a temperature lies outside.

    References
    ----------
    ASHRAE Fundamentals ch. 1 eq. 6, fitted 0 to 200 °C; continued below 0.
    """
    t_c = within("temperature", temperature_c, LEAST_C, GREATEST_C, "°C")
    return np.asarray(np.exp(_ln_water(t_c + _KELVIN)))


def saturation_over_ice_pa(temperature_c: Figures) -> Floats:
    """Return the saturation vapour pressure over ice. [Pa]

    Parameters
    ----------
    temperature_c : float or ndarray
        -100 to 0. [°C]

    Raises
    ------
    OutOfRangeError
        If a temperature lies outside.

    References
    ----------
    ASHRAE Fundamentals ch. 1 eq. 5, -100 to 0 °C.
    """
    t_c = within("temperature over ice", temperature_c, -100.0, 0.0, "°C")
    return np.asarray(np.exp(_ln_ice(t_c + _KELVIN)))


def vapour_pressure_pa(air_c: Figures, humidity_pct: Figures) -> Floats:
    """Return the vapour pressure of air from its relative humidity over water. [Pa]

    Parameters
    ----------
    air_c : float or ndarray
        -40 to 100. [°C]
    humidity_pct : float or ndarray
        0 to 100. [%]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.
    """
    share = within("relative humidity", humidity_pct, 0.0, 100.0, "%") / 100.0
    return np.asarray(share * saturation_over_water_pa(air_c))


def deficit_pa(air_c: Figures, humidity_pct: Figures) -> Floats:
    """Return the vapour pressure deficit (VPD). [Pa]; ranges as `vapour_pressure_pa`."""
    return np.asarray(saturation_over_water_pa(air_c) - vapour_pressure_pa(air_c, humidity_pct))


def _solve(ln_pressure: Floats, *, ice: bool) -> Floats:
    """Return the temperature of a saturation pressure by Newton's method. [°C]"""
    a, b = (22.46, 272.62) if ice else (17.62, 243.12)  # Magnus form, WMO-No. 8, to start
    x = ln_pressure - np.log(611.2)
    k = b * x / (a - x) + _KELVIN
    curve = _ln_ice if ice else _ln_water
    for _ in range(3):  # d ln p / dK = L / (R K²), L about 2.8 or 2.5 MJ/kg
        slope = (curve(k + 0.01) - curve(k - 0.01)) / 0.02
        k = k - (curve(k) - ln_pressure) / slope
    return np.asarray(k - _KELVIN)


def dew_point_c(vapour_pa: Figures) -> Floats:
    """Return where vapour condenses on water: the dew point, also below 0 °C. [°C]

    Show it to 1 °F: a sensor's own 2 % moves it by 0.3 to 0.6 K.

    Parameters
    ----------
    vapour_pa : float or ndarray
        0 to the saturation pressure at 100 °C. [Pa]

    Returns
    -------
    ndarray
        NaN marks air too dry for the formula: a dew point under -40 °C. [°C]

    Raises
    ------
    OutOfRangeError
        If a pressure lies outside.

    References
    ----------
    ASHRAE Fundamentals ch. 1 eq. 6, solved for the temperature.
    """
    most_pa = float(saturation_over_water_pa(GREATEST_C))
    e_pa = within("vapour pressure", vapour_pa, 0.0, most_pa, "Pa")
    reached = e_pa >= float(saturation_over_water_pa(LEAST_C))
    found_c = _solve(np.log(np.where(reached, e_pa, 611.2)), ice=False)
    return np.where(reached, found_c, np.nan)


def frost_point_c(vapour_pa: Figures) -> Floats:
    """Return where vapour freezes out on ice: the frost point. [°C]

    Parameters
    ----------
    vapour_pa : float or ndarray
        0 to the saturation pressure at 100 °C. [Pa]

    Returns
    -------
    ndarray
        NaN where there is none: over 0 °C, or under -100 °C. [°C]

    Raises
    ------
    OutOfRangeError
        If a pressure lies outside.

    References
    ----------
    ASHRAE Fundamentals ch. 1 eq. 5, solved for the temperature.
    """
    most_pa = float(saturation_over_water_pa(GREATEST_C))
    e_pa = within("vapour pressure", vapour_pa, 0.0, most_pa, "Pa")
    lowest_pa, highest_pa = (float(saturation_over_ice_pa(end)) for end in (-100.0, 0.0))
    exists = (e_pa >= lowest_pa) & (e_pa <= highest_pa)
    found_c = _solve(np.log(np.where(exists, e_pa, 300.0)), ice=True)
    return np.where(exists, np.minimum(found_c, 0.0), np.nan)


def relative_humidity_pct(air_c: Figures, dew_c: Figures) -> Floats:
    """Return the relative humidity over water from air temperature and dew point. [%]

    Parameters
    ----------
    air_c, dew_c : float or ndarray
        -40 to 100, the dew point at most the air temperature. [°C]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside, or a dew point lies over its air temperature.
    """
    within("air less dew point", np.asarray(air_c) - np.asarray(dew_c), 0.0, 140.0, "K")
    share = saturation_over_water_pa(dew_c) / saturation_over_water_pa(air_c)
    return np.asarray(100.0 * share)


def absolute_humidity_g_m3(air_c: Figures, vapour_pa: Figures) -> Floats:
    """Return the mass of water in a volume of air, as an ideal gas. [g/m³]

    Parameters
    ----------
    air_c : float or ndarray
        -40 to 100. [°C]
    vapour_pa : float or ndarray
        0 to the saturation pressure at 100 °C. [Pa]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.
    """
    t_c = within("air temperature", air_c, LEAST_C, GREATEST_C, "°C")
    most_pa = float(saturation_over_water_pa(GREATEST_C))
    e_pa = within("vapour pressure", vapour_pa, 0.0, most_pa, "Pa")
    return np.asarray(1000.0 * e_pa / (_R_VAPOUR * (t_c + _KELVIN)))


def humidity_ratio(vapour_pa: Figures, pressure_pa: Figures = STANDARD_PRESSURE_PA) -> Floats:
    """Return the mass of water to that of dry air. [kg/kg]

    Parameters
    ----------
    vapour_pa : float or ndarray
        From 0 and at most half the pressure. [Pa]
    pressure_pa : float or ndarray
        50 000 to 110 000: from 5,500 m up down to sea level. [Pa]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.

    References
    ----------
    ASHRAE Fundamentals ch. 1 eq. 20, without the enhancement factor (0.4 to 0.5 %).
    """
    p_pa = within("air pressure", pressure_pa, 50_000.0, 110_000.0, "Pa")
    e_pa = within("vapour pressure", vapour_pa, 0.0, float(np.min(p_pa)) / 2.0, "Pa")
    return np.asarray(_MASS_RATIO * e_pa / (p_pa - e_pa))


def _ratio_at_wet_bulb(air_c: Floats, wet_c: Floats, pressure_pa: Floats) -> Floats:
    """Return the humidity ratio that a wet bulb tells; ASHRAE eqs 33 and 35. [kg/kg]"""
    k = wet_c + _KELVIN
    e_pa = np.exp(np.where(wet_c >= 0.0, _ln_water(k), _ln_ice(np.minimum(k, _KELVIN))))
    saturated = _MASS_RATIO * e_pa / (pressure_pa - e_pa)
    fall = 1.006 * (air_c - wet_c)
    water = ((2501.0 - 2.326 * wet_c) * saturated - fall) / (2501.0 + 1.86 * air_c - 4.186 * wet_c)
    ice = ((2830.0 - 0.24 * wet_c) * saturated - fall) / (2830.0 + 1.86 * air_c - 2.1 * wet_c)
    return np.where(wet_c >= 0.0, water, ice)


def wet_bulb_c(
    air_c: Figures, humidity_pct: Figures, pressure_pa: Figures = STANDARD_PRESSURE_PA
) -> Floats:
    """Return the thermodynamic wet-bulb temperature, iced below 0 °C. [°C]

    Parameters
    ----------
    air_c : float or ndarray
        -30 to 60. [°C]
    humidity_pct : float or ndarray
        0 to 100, over water. [%]
    pressure_pa : float or ndarray
        50 000 to 110 000. [Pa]

    Returns
    -------
    ndarray
        NaN where air under 0 °C holds more than ice allows: no bulb is defined. [°C]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.

    References
    ----------
    ASHRAE Fundamentals ch. 1 eqs 33 and 35, solved by bisection to 1e-6 K.
    """
    t_c = within("air temperature", air_c, -30.0, 60.0, "°C")
    p_pa = within("air pressure", pressure_pa, 50_000.0, 110_000.0, "Pa")
    e_pa = vapour_pressure_pa(t_c, humidity_pct)
    target = np.asarray(_MASS_RATIO * e_pa / (p_pa - e_pa))
    t_c, p_pa, target = np.broadcast_arrays(t_c, p_pa, target)
    low, high = t_c - 60.0, t_c + 0.0
    for _ in range(26):
        middle = (low + high) / 2.0
        over = _ratio_at_wet_bulb(t_c, middle, p_pa) > target
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    beyond = target > _ratio_at_wet_bulb(t_c, t_c, p_pa) * (1.0 + 1e-9)
    return np.where(beyond, np.nan, (low + high) / 2.0)
