"""A clear, calm night: the FAO two-step regression of its minimum, and its course.

References
----------
Snyder & de Melo-Abreu 2005, Frost Protection, FAO Environment and Natural Resources
Series 10, ch. 5; the night's course after Allen 1957.
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.errors import OutOfRangeError
from monitor.science.checking import Figures, Floats, within

START_H: Final = 2.0  # hours after sunset at which the two figures are taken
LEAST_NIGHTS: Final = 5
_AIR_C: Final = (-40.0, 45.0)
_DEW_C: Final = (-60.0, 45.0)


class Coefficients(NamedTuple):
    """Of the least temperature: ``air`` T0 + ``dew`` Td + ``level``. [°C]

    ``level`` sums the constants of both steps, ``level_1`` and ``level_2``.
    """

    air: float
    dew: float
    level_1: float
    level_2: float

    @property
    def level(self) -> float:
        """Return the constant of both steps. [°C]"""
        return self.level_1 + self.level_2


def _line(x: Floats, y: Floats) -> tuple[float, float]:
    """Return slope and constant of least squares; no slope where x does not vary."""
    middle = float(x.mean())
    spread = float(((x - middle) ** 2).sum())
    slope = float(((x - middle) * y).sum()) / spread if spread > 0.0 else 0.0
    return slope, float(y.mean()) - slope * middle


def fit(air_c: Floats, dew_c: Floats, least_c: Floats) -> Coefficients:
    """Return a site's coefficients from its own nights, by two regressions in sequence.

    One joint least squares is another method, and 0.3 K off on FAO's own example.

    Parameters
    ----------
    air_c, dew_c : ndarray, shape (n,)
        Two hours after sunset. [°C]
    least_c : ndarray, shape (n,)
        Least temperature of the night. [°C]

    Raises
    ------
    OutOfRangeError
        If there are under five nights, the shapes differ or a figure lies outside.

    References
    ----------
    FAO 10, ch. 5: Tn on T0, then the residuals on Td.
    """
    t_c = within("air at dusk", air_c, *_AIR_C, "°C")
    d_c = within("dew point at dusk", dew_c, *_DEW_C, "°C")
    n_c = within("least temperature", least_c, *_AIR_C, "°C")
    if not t_c.shape == d_c.shape == n_c.shape or t_c.ndim != 1:
        raise OutOfRangeError("nights need an air, a dew point and a minimum each")
    if t_c.size < LEAST_NIGHTS:
        raise OutOfRangeError(f"{t_c.size} nights: a fit needs at least {LEAST_NIGHTS}")
    air, level_1 = _line(t_c, n_c)
    dew, level_2 = _line(d_c, n_c - air * t_c - level_1)
    return Coefficients(air, dew, level_1, level_2)


def least_temperature_c(coefficients: Coefficients, air_c: Figures, dew_c: Figures) -> Floats:
    """Return the forecast minimum of a clear, calm night. [°C]

    Parameters
    ----------
    coefficients : Coefficients
        Of this site.
    air_c, dew_c : float or ndarray
        Two hours after sunset. [°C]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.
    """
    t_c = within("air at dusk", air_c, *_AIR_C, "°C")
    d_c = within("dew point at dusk", dew_c, *_DEW_C, "°C")
    return np.asarray(coefficients.air * t_c + coefficients.dew * d_c + coefficients.level)


def _fall(start_c: float, least_c: float, night_h: float) -> float:
    """Return b' of the night's course; zero or negative. [K/h½]"""
    hours = float(within("length of the night", night_h, 2.5, 24.0, "h"))
    return (least_c - start_c) / float(np.sqrt(hours - START_H))


def night_course_c(after_h: Figures, start_c: float, least_c: float, night_h: float) -> Floats:
    """Return the temperature through a night by the square root of time. [°C]

    Parameters
    ----------
    after_h : float or ndarray
        Hours after sunset, 2 to the length of the night. [h]
    start_c, least_c : float
        Two hours after sunset, and at sunrise. [°C]
    night_h : float
        From sunset to sunrise, 2.5 to 24. [h]

    Raises
    ------
    OutOfRangeError
        If a time lies outside the night.

    References
    ----------
    FAO 10, ch. 5, after Allen 1957: T = T0 + b' sqrt(i - 2).
    """
    fall = _fall(start_c, least_c, night_h)
    hours = within("hours after sunset", after_h, START_H, night_h, "h")
    return np.asarray(start_c + fall * np.sqrt(hours - START_H))


def hours_to_limit(limit_c: float, start_c: float, least_c: float, night_h: float) -> float:
    """Return when a night passes a limit, in hours after sunset. [h]

    2 where it is there from the start; ``inf`` where this night does not get there.

    Raises
    ------
    OutOfRangeError
        If the length of the night lies outside 2.5 to 24 h.

    References
    ----------
    FAO 10, ch. 5: i = 2 + ((TL - T0)/b')².
    """
    fall = _fall(start_c, least_c, night_h)
    if limit_c >= start_c:
        return START_H
    if limit_c < least_c:
        return float("inf")
    return START_H + ((limit_c - start_c) / fall) ** 2
