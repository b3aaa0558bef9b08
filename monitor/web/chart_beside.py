"""What is drawn beside a place's air: what is kept there, and the dew point."""

from typing import Any, Final

import numpy as np

from monitor.farm import Place
from monitor.science import lag, moist_air
from monitor.science.series import Samples, value_at
from monitor.web.trails import Floats, Trail, with_breaks

_SLOW_S: Final = 1800.0
"""What follows the air faster than this is drawn as the air. [s]"""
_FINE: Final = 0.5
"""Points stand closer than this share of the lag, or the lag is not to be seen."""


def beside(place: Place, air: Trail, damp: Trail) -> dict[str, Any]:
    """Return the lines that belong to a sensor's air: ``contents``, ``dew_point``. [°C]

    Each is None where it cannot be told: no lag, no humidity, or points too far apart.
    """
    return {"contents": _contents(place, air), "dew_point": _dew_point(air, damp)}


def _contents(place: Place, air: Trail) -> dict[str, Any] | None:
    if place.lag_s < _SLOW_S or air.at_ms.size == 0 or air.gap_ms / 1000 > _FINE * place.lag_s:
        return None
    kept = lag.follow(Samples(air.at_ms, air.mean, air.gap_ms / 1000), place.lag_s)
    return _line(air, np.where(kept.settled, kept.value_c, np.nan))


def _dew_point(air: Trail, damp: Trail) -> dict[str, Any] | None:
    if not damp.at_ms.size or not air.at_ms.size:
        return None
    humidity_pct = value_at(Samples(damp.at_ms, damp.mean, damp.gap_ms / 1000), air.at_ms)
    dew_c = np.full(air.at_ms.size, np.nan)
    known = np.isfinite(humidity_pct) & (humidity_pct > 0.0)
    vapour_pa = moist_air.vapour_pressure_pa(air.mean[known], humidity_pct[known])
    dew_c[known] = moist_air.dew_point_c(vapour_pa)
    return _line(air, dew_c)


def _line(air: Trail, value_c: Floats) -> dict[str, Any] | None:
    if not np.isfinite(value_c).any():
        return None
    at_s, (broken,) = with_breaks(air, value_c)
    return {"at": at_s, "value": broken}
