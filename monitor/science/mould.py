"""Grey mould: wet hours of a night by a named surrogate, and Broome's model in its range.

Without a leaf sensor wetness is inferred: from air at 90 % or more (a common surrogate,
from memory), or from a surface at or under the dew point. In a humid tunnel either may
hold every night, so a night is told against what is normal for this very tunnel.
"""

from enum import StrEnum
from typing import Final, NamedTuple

import numpy as np

from monitor.model.band import Side
from monitor.science.checking import Figures, Flags, Floats, Ints, within
from monitor.science.exposure import time_outside_s
from monitor.science.moist_air import dew_point_c, vapour_pressure_pa
from monitor.science.series import Samples, clip, coverage

WET_PCT: Final = 90.0
LEAST_COVERAGE: Final = 0.75
LEAST_NIGHTS: Final = 7
_FITTED_H: Final = (4.0, 20.0)
_FITTED_C: Final = (12.0, 30.0)


class Surrogate(StrEnum):
    """What stands in for a wet leaf."""

    HUMID_AIR = "air at 90 % or more"
    UNDER_DEW_POINT = "surface at or under the dew point"


class WetNights(NamedTuple):
    """Wet hours of each night, shape (k,); NaN where under three quarters is known."""

    wet_h: Floats
    coverage: Floats
    surrogate: Surrogate


def dew_margin(surface: Samples, air_c: Figures, humidity_pct: Figures) -> Samples:
    """Return how far a surface lies over the dew point of the air around it. [K]

    Parameters
    ----------
    surface : Samples
        Temperature of leaf, stem or film. [°C]
    air_c, humidity_pct : float or ndarray, shape (n,)
        At the same times. [°C], [%]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside the range of moist air, or the air is too dry for it.
    """
    dew_c = dew_point_c(vapour_pressure_pa(air_c, humidity_pct))
    return Samples(surface.at_ms, surface.value - dew_c, surface.allowed_gap_s)


def wet_nights(
    measure: Samples, surrogate: Surrogate, nights_ms: Ints, limit: float | None = None
) -> WetNights:
    """Return the wet hours of nights.

    Parameters
    ----------
    measure : Samples
        Relative humidity [%] for humid air, or `dew_margin` [K] for a surface.
    surrogate : Surrogate
        Which of the two it is.
    nights_ms : ndarray of int64, shape (k, 2)
        From and to of each night, UTC. [ms]
    limit : float, optional
        Instead of 90 %, or of 0 K of margin.

    Raises
    ------
    OutOfRangeError
        If a night does not last.
    """
    humid = surrogate is Surrogate.HUMID_AIR
    at = limit if limit is not None else (WET_PCT if humid else 0.0)
    side = Side.HIGH if humid else Side.LOW
    spans = [(int(begin), int(end)) for begin, end in nights_ms]
    known = np.array([coverage(measure, *span) for span in spans], dtype=np.float64)
    wet_s = [time_outside_s(clip(measure, *span), side, at) for span in spans]
    wet_h = np.array(wet_s, dtype=np.float64) / 3600.0
    return WetNights(np.where(known >= LEAST_COVERAGE, wet_h, np.nan), known, surrogate)


class Unusual(NamedTuple):
    """A night against this tunnel's normal."""

    wet_h: float
    normal_h: float
    wetter_than_share: float
    nights: int


def against_normal(wet_h: float, past_h: Floats) -> Unusual | None:
    """Return how a night's wet hours stand among this tunnel's own past nights.

    Returns None until seven past nights are known, or where tonight is not.

    Parameters
    ----------
    wet_h : float
        Of the night; NaN where unknown. [h]
    past_h : ndarray, shape (k,)
        Of past nights; NaN where unknown. [h]
    """
    known = past_h[~np.isnan(past_h)]
    if len(known) < LEAST_NIGHTS or np.isnan(wet_h):
        return None
    wetter = float(np.mean(known < wet_h))
    return Unusual(wet_h, float(np.median(known)), wetter, len(known))


def broome_in_range(wet_h: Figures, wet_c: Figures) -> Flags:
    """Return where Broome's model was fitted: 4 to 20 h of wetness, 12 to 30 °C."""
    hours, t_c = np.asarray(wet_h, np.float64), np.asarray(wet_c, np.float64)
    long = (hours >= _FITTED_H[0]) & (hours <= _FITTED_H[1])
    return np.asarray(long & (t_c >= _FITTED_C[0]) & (t_c <= _FITTED_C[1]))


def broome_probability(wet_h: Figures, wet_c: Figures) -> Floats:
    """Return the chance of infection of grapes: a guide for tunnels, not for the cooler.

    Parameters
    ----------
    wet_h : float or ndarray
        Length of the wetness, not negative. [h]
    wet_c : float or ndarray
        Mean temperature while wet. [°C]

    Returns
    -------
    ndarray
        0 to 1; NaN outside the model's range, which `broome_in_range` tells. Its slope
        turns below 7.45 and above 33.3 °C: a low figure there would be false.

    Raises
    ------
    OutOfRangeError
        If hours are negative or a figure is not a number.

    References
    ----------
    Broome, English, Marois, Latorre & Aviles 1995, Phytopathology 85:97.
    """
    hours = within("wet hours", wet_h, 0.0, np.inf, "h")
    t_c = within("temperature", wet_c, -100.0, 100.0, "°C")
    usable = broome_in_range(hours, t_c)
    hours, t_c = np.where(usable, hours, 4.0), np.where(usable, t_c, 12.0)
    logit = -2.647866 + hours * (-0.374927 + t_c * (0.061601 - 0.001511 * t_c))
    return np.where(usable, 1.0 / (1.0 + np.exp(-logit)), np.nan)
