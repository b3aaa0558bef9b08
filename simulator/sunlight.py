"""Sunshine on level ground under a clear sky, near enough for a weather that is made up."""

from typing import Final

import numpy as np

from simulator.dice import Floats, Times

_DAY_MS: Final = 86_400_000.0


def sine_of_elevation(at_ms: Times, latitude: float, longitude: float) -> Floats:
    """Return the sine of the sun's height, negative at night.

    Parameters
    ----------
    at_ms : ndarray
        UTC. [ms since 1970]
    latitude, longitude : float
        North and east positive. [°]

    References
    ----------
    Spencer (1971), Fourier series for declination and equation of time, as printed in
    Iqbal, An Introduction to Solar Radiation, equations 1.3.1 and 1.4.1 (from memory).
    """
    days = at_ms / _DAY_MS
    angle = 2.0 * np.pi * (days % 365.2425) / 365.2425
    declination = (
        0.006918 - 0.399912 * np.cos(angle) + 0.070257 * np.sin(angle)
        - 0.006758 * np.cos(2 * angle) + 0.000907 * np.sin(2 * angle)
    )  # fmt: skip
    equation_min = 229.18 * (
        0.000075 + 0.001868 * np.cos(angle) - 0.032077 * np.sin(angle)
        - 0.014615 * np.cos(2 * angle) - 0.040849 * np.sin(2 * angle)
    )  # fmt: skip
    turned = (days % 1.0) + longitude / 360.0 + equation_min / 1440.0 - 0.5
    north = np.radians(latitude)
    high: Floats = np.sin(north) * np.sin(declination)
    wide: Floats = np.cos(north) * np.cos(declination) * np.cos(2.0 * np.pi * turned)
    return high + wide


def clear_sky_w_m2(at_ms: Times, latitude: float, longitude: float) -> Floats:
    """Return sunshine on level ground with no cloud. [W/m²]

    References
    ----------
    Haurwitz (1945), Insolation in relation to cloudiness and cloud density, J. Meteorology
    2:154, GHI = 1098 cos z exp(-0.057 / cos z) (from memory).
    """
    sine = sine_of_elevation(at_ms, latitude, longitude)
    height = np.maximum(sine, 1e-3)
    shine: Floats = np.where(sine > 0.0, 1098.0 * height * np.exp(-0.057 / height), 0.0)
    return shine
