"""Thermal time: degree-days above a base, from readings or from daily extremes.

References
----------
Straight lines between readings: exact trapezoids and triangles. Single sine: Baskerville
& Emin 1969, Ecology 50:514; Zalom et al. 1983, UC leaflet 21373 (horizontal cutoff).
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.errors import OutOfRangeError
from monitor.model.band import Side
from monitor.science.checking import Figures, Floats, within
from monitor.science.exposure import degree_hours
from monitor.science.series import Samples

_RANGE_C: Final = (-60.0, 70.0)


class ThermalTime(NamedTuple):
    """Degree-days over the known time, and how long that is."""

    degree_days: float
    known_s: float


def _check_bases(lower_c: float, upper_c: float | None) -> None:
    within("lower threshold", lower_c, *_RANGE_C, "°C")
    if upper_c is not None and not lower_c < upper_c:
        raise OutOfRangeError(
            f"the upper threshold {upper_c:g} °C is not over the lower {lower_c:g} °C"
        )


def from_readings(samples: Samples, lower_c: float, upper_c: float | None = None) -> ThermalTime:
    """Return the thermal time of readings, each step a straight line. [°C·d]

    Gaps add nothing and are not known time: name the coverage beside the figure.

    Parameters
    ----------
    samples : Samples
        Temperature, -60 to 70. [°C]
    lower_c : float
        Base. [°C]
    upper_c : float, optional
        Horizontal cutoff: warmer counts as this. [°C]

    Raises
    ------
    OutOfRangeError
        If a temperature lies outside or the thresholds are the wrong way round.
    """
    _check_bases(lower_c, upper_c)
    within("temperature", samples.value, *_RANGE_C, "°C")
    above = degree_hours(samples, Side.HIGH, lower_c)
    if upper_c is not None:
        above -= degree_hours(samples, Side.HIGH, upper_c)
    return ThermalTime(above / 24.0, samples.known_s)


def _sine_above(mean_c: Floats, half_c: Floats, base_c: float) -> Floats:
    """Return a day's degree-days of a sine above a base. [°C·d]"""
    over = mean_c - base_c
    angle = np.arcsin(np.clip(-over / np.where(half_c > 0.0, half_c, 1.0), -1.0, 1.0))
    crossing = (over * (np.pi / 2.0 - angle) + half_c * np.cos(angle)) / np.pi
    return np.where(over >= half_c, over, np.where(over <= -half_c, 0.0, crossing))


def single_sine(
    least_c: Figures, greatest_c: Figures, lower_c: float, upper_c: float | None = None
) -> Floats:
    """Return each day's thermal time from its extremes, as one sine a day. [°C·d]

    Meaningless for a room whose temperature does not follow the sun: use readings there.

    Parameters
    ----------
    least_c, greatest_c : float or ndarray
        Daily extremes, -60 to 70. [°C]
    lower_c, upper_c : float
        Base, and horizontal cutoff where given. [°C]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside, or an extreme or threshold is the wrong way round.
    """
    _check_bases(lower_c, upper_c)
    low_c = within("daily minimum", least_c, *_RANGE_C, "°C")
    high_c = within("daily maximum", greatest_c, *_RANGE_C, "°C")
    half_c = within("maximum less minimum", high_c - low_c, 0.0, 130.0, "K") / 2.0
    mean_c = (low_c + high_c) / 2.0
    above = _sine_above(mean_c, half_c, lower_c)
    return above if upper_c is None else above - _sine_above(mean_c, half_c, upper_c)
