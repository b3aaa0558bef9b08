"""Out of what any place here can be, though an instrument could say it.

Common practice: no tunnel, store or field is above 60 °C, below -35 °C or drier than 4 %.
Where a second sensor of the place says nearly the same, it is believed: a genuine extreme.
"""

from typing import Final

import numpy as np

from monitor.model import Quantity
from monitor.watch.trust.grid import Bools, Grid, others

_RANGE: Final = {
    Quantity.TEMPERATURE: (-35.0, 60.0),
    Quantity.SOIL_TEMPERATURE: (-35.0, 60.0),
    Quantity.HUMIDITY: (4.0, 200.0),
}
_CONFIRMS: Final = 15.0  # so near is a second opinion [K or %]


def incredible(quantity: Quantity, value: float) -> bool:
    """Return whether no place is like that. [°C or %]"""
    low, high = _RANGE.get(quantity, (-np.inf, np.inf))
    return not low <= value <= high


def impossible(here: Grid) -> Bools:
    """Return in which half hours each channel's mean cannot be, and nobody confirms it."""
    low, high = _RANGE[here.quantity]
    out = (here.mean < low) | (here.mean > high)
    if not out.any():
        return out
    for row in range(len(here.channels)):
        near = np.abs(others(here.mean, row) - here.mean[row]) <= _CONFIRMS
        out[row] &= ~near.any(axis=0)
    return out
