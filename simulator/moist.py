"""Moist air for one step of a room: scalars, because a step is taken millions of times.

Humidity is over water, as instruments report it. Pressure is the standard 101 325 Pa.
"""

from math import exp
from typing import Final

import numpy as np

from simulator.dice import Floats

PRESSURE_PA: Final = 101_325.0
LATENT_J_KG: Final = 2_501_000.0  # of evaporation, at 0 °C
MELTING_J_KG: Final = 333_600.0
AIR_J_KGK: Final = 1_006.0
VAPOUR_J_KGK: Final = 1_860.0
_RATIO: Final = 0.621945
_DRY_AIR_J_KGK: Final = 287.042
_KELVIN: Final = 273.15


def saturation_pa(air_c: float) -> float:
    """Return the saturation pressure over water. [Pa]

    References
    ----------
    WMO-No. 8, Guide to Instruments and Methods of Observation, Magnus form.
    """
    return 611.2 * exp(17.62 * air_c / (243.12 + air_c))


def saturated_ratio(air_c: float) -> float:
    """Return the humidity ratio of saturated air, over water. [kg/kg]"""
    vapour_pa = 611.2 * exp(17.62 * air_c / (243.12 + air_c))  # saturation_pa, without its call
    return _RATIO * vapour_pa / (PRESSURE_PA - vapour_pa)


def surface_ratio(surface_c: float) -> float:
    """Return the humidity ratio that a wet or frosted surface holds the air to. [kg/kg]

    References
    ----------
    WMO-No. 8, Magnus form over water; below 0 °C over ice.
    """
    if surface_c >= 0.0:
        return saturated_ratio(surface_c)
    vapour_pa = 611.2 * exp(22.46 * surface_c / (272.62 + surface_c))
    return _RATIO * vapour_pa / (PRESSURE_PA - vapour_pa)


def humidity_ratio(air_c: float, humidity_pct: float) -> float:
    """Return the humidity ratio. [kg/kg]

    References
    ----------
    ASHRAE Fundamentals, Psychrometrics: W = 0.621945 e / (p - e).
    """
    vapour_pa = saturation_pa(air_c) * humidity_pct / 100.0
    return _RATIO * vapour_pa / (PRESSURE_PA - vapour_pa)


def relative_humidity_pct(air_c: float, ratio: float) -> float:
    """Return the relative humidity over water of air of a humidity ratio [kg/kg]. [%]"""
    vapour_pa = PRESSURE_PA * ratio / (_RATIO + ratio)
    return 100.0 * vapour_pa / saturation_pa(air_c)


def many_relative_humidities_pct(air_c: Floats, ratio: Floats) -> Floats:
    """Return `relative_humidity_pct` of many, at most 100. [%]"""
    vapour_pa = PRESSURE_PA * ratio / (_RATIO + ratio)
    saturated_pa = 611.2 * np.exp(17.62 * air_c / (243.12 + air_c))
    return np.minimum(100.0 * vapour_pa / saturated_pa, 100.0)


def enthalpy_j_kg(air_c: float, ratio: float) -> float:
    """Return the enthalpy per kilogram of dry air, from 0 °C. [J/kg]

    References
    ----------
    ASHRAE Fundamentals, Psychrometrics: h = 1.006 t + W (2501 + 1.86 t) kJ/kg.
    """
    return AIR_J_KGK * air_c + ratio * (LATENT_J_KG + VAPOUR_J_KGK * air_c)


def density_kg_m3(air_c: float, ratio: float) -> float:
    """Return the density of moist air. [kg/m³]

    References
    ----------
    ASHRAE Fundamentals, Psychrometrics: v = R T (1 + 1.607858 W) / p, rho = (1 + W) / v.
    """
    volume = _DRY_AIR_J_KGK * (air_c + _KELVIN) * (1.0 + 1.607858 * ratio) / PRESSURE_PA
    return (1.0 + ratio) / volume
