"""Out of what any place here can be, though an instrument could say it.

Common practice: no tunnel, store or field is above 60 °C, below -35 °C or drier than 4 %.
Where a second sensor of the place says nearly the same, it is believed: a genuine extreme.
What is beyond any fire or winter here (-50 °C, 80 °C) is a code, and confirms nothing.
"""

from typing import Final

import numpy as np

from monitor.model import Quantity
from monitor.watch.events import Values
from monitor.watch.trust.grid import Bools, Grid, others

_RANGE: Final = {
    Quantity.TEMPERATURE: (-35.0, 60.0),
    Quantity.SOIL_TEMPERATURE: (-35.0, 60.0),
    Quantity.HUMIDITY: (4.0, 200.0),
}
_WITNESS: Final = {
    Quantity.TEMPERATURE: (-50.0, 80.0),
    Quantity.SOIL_TEMPERATURE: (-50.0, 80.0),
    Quantity.HUMIDITY: (4.0, 200.0),
}
_ANY: Final = (-np.inf, np.inf)
_CONFIRMS: Final = 15.0  # so near is a second opinion [K or %]


def incredible(quantity: Quantity, value: float) -> bool:
    """Return whether no place is like that. [°C or %]"""
    low, high = _RANGE.get(quantity, _ANY)
    return not low <= value <= high


def plausible(quantity: Quantity, value: Values) -> Bools:
    """Return which values a place can have. [°C or %]"""
    low, high = _RANGE.get(quantity, _ANY)
    found: Bools = (value >= low) & (value <= high)
    return found


def confirmed(quantity: Quantity, value: float | Values, near: Values) -> Bools:
    """Return which values of others say nearly the same, and could be so. [°C or %]"""
    low, high = _WITNESS.get(quantity, _ANY)
    found: Bools = (np.abs(near - value) <= _CONFIRMS) & (near >= low) & (near <= high)
    return found


def impossible(here: Grid) -> Bools:
    """Return in which half hours each channel's mean cannot be, and nobody confirms it."""
    out = here.known & ~plausible(here.quantity, here.mean)
    for row in np.flatnonzero(out.any(axis=1)).tolist():
        near = confirmed(here.quantity, here.mean[row], others(here.mean, row))
        out[row] &= ~near.any(axis=0)
    return out
