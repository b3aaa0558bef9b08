"""One sensor far from two or more of its place that agree with each other."""

from typing import Final

import numpy as np

from monitor.model import Quantity
from monitor.watch.events import Values
from monitor.watch.trust.grid import Bools, Grid, others

_FAR_K: Final = 12.0  # common practice: siblings of one tunnel stay nearer than this
_LEAST: Final = 2


def odd_one(here: Grid) -> Bools:
    """Return in which half hours a temperature is far from the middle of its siblings."""
    found = np.zeros(here.mean.shape, dtype=bool)
    if here.quantity is Quantity.HUMIDITY or len(here.channels) <= _LEAST:
        return found
    if not (np.fmax.reduce(here.mean) - np.fmin.reduce(here.mean) > _FAR_K).any():
        return found
    for row in range(len(here.channels)):
        near = others(here.mean, row)
        enough = (~np.isnan(near)).sum(axis=0) >= _LEAST
        agree = enough & (_spread(near) <= _FAR_K)
        found[row] = agree & (np.abs(here.mean[row] - middle(near)) > _FAR_K)
    return found


def middle(near: Values) -> Values:
    """Return the median of what is known in each half hour, NaN where nothing is. [°C]"""
    ordered = np.sort(near, axis=0)  # what is not known comes last
    known = np.count_nonzero(~np.isnan(near), axis=0)
    at = np.arange(near.shape[1])
    upper = ordered[np.minimum(known // 2, near.shape[0] - 1), at]
    found: Values = (ordered[np.maximum(known - 1, 0) // 2, at] + upper) / 2.0
    return found


def _spread(near: Values) -> Values:
    """Return how far the siblings' middle half lies apart, a single broken one left out."""
    off = np.sort(np.abs(near - middle(near)), axis=0)
    found: Values = off[(near.shape[0] - 1) // 2]
    return found
