"""A value reached by one jump that no air makes, and then exactly constant: a fault code.

Probes say 85, 25, 0 or -127 °C as they start or fail, others whatever their maker chose; so
the jump tells, not the value. A probe in air follows with a time constant of minutes (first
order lag; common practice): a door, warm stems or a heater show as a rise that goes on, in
several steps, and varies after. What leaps and then stands still at once is no air. In doubt
nothing is said: where another sensor of the place came along it is believed, in water,
which is poured, across a gap of over an hour, and after hours without a step as well: who
can tell a repaired probe from one that fails.
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.model import PlaceKind, Quantity
from monitor.watch.events import Times, Values

_LEAST: Final = 3  # readings
_LEAST_MS: Final = 600_000
_GAP_MS: Final = 3_600_000
_INDOORS_K: Final = 2.0
_OUTDOORS_K: Final = 10.0
_STEPS: Final = 10  # of its own resolution
_RATE_K_PER_MS: Final = 20.0 / 3_600_000  # steeper than any room or closed tunnel for long
_CONFIRMS_K: Final = 5.0
_ROUNDING: Final = 1e-6
_OUTDOORS: Final = (PlaceKind.TUNNEL, PlaceKind.FIELD)


class Hold(NamedTuple):
    """What a channel has said exactly since a jump, and what it said before. [°C]"""

    since_ms: int
    value: float
    before: float


def held(kind: PlaceKind, quantity: Quantity, at_ms: Times, value: Values) -> Hold | None:
    """Return what the last hours of a channel end with, if it leapt there and stands still.

    Parameters
    ----------
    kind, quantity : PlaceKind, Quantity
        Of the place and the channel.
    at_ms, value : ndarray
        Its last hours, in order. [ms], [°C]
    """
    if quantity is Quantity.HUMIDITY or kind is PlaceKind.SOAK_BUCKET:
        return None
    first = standing_from(value)
    if first == 0 or len(value) - first < _LEAST or at_ms[-1] - at_ms[first] < _LEAST_MS:
        return None
    now, earlier = float(value[-1]), value[:first]
    step_k = _finest_k(earlier)
    gap_ms = int(at_ms[first] - at_ms[first - 1])
    if step_k is None or gap_ms > _GAP_MS:
        return None
    least_k = _leap_k(kind, quantity, step_k) + _RATE_K_PER_MS * gap_ms
    if float(np.abs(earlier - now).min()) <= least_k:
        return None
    return Hold(int(at_ms[first]), now, float(earlier[-1]))


def standing_from(value: Values) -> int:
    """Return from which reading on a series says only what it says last."""
    other = np.flatnonzero(value != value[-1]) if len(value) else np.empty(0)
    return int(other[-1]) + 1 if other.size else 0


def came_along(hold: Hold, other: float) -> bool:
    """Return whether another sensor is so near to what is held that it confirms it. [°C]"""
    near_k = min(_CONFIRMS_K, abs(hold.value - hold.before) / 2.0)
    return abs(other - hold.value) <= near_k


def _finest_k(value: Values) -> float | None:
    """Return the finest step that a series makes, None where it makes none. [K]"""
    steps = np.abs(np.diff(value))
    steps = steps[steps > _ROUNDING]
    return float(steps.min()) if steps.size else None


def _leap_k(kind: PlaceKind, quantity: Quantity, step_k: float) -> float:
    """Return what is too much for one step: indoors by the finest step of that sensor. [K]"""
    if kind in _OUTDOORS or quantity is Quantity.SOIL_TEMPERATURE:
        return _OUTDOORS_K
    return min(max(_INDOORS_K, _STEPS * step_k), _OUTDOORS_K)
