"""Two sensors of one place that differ for hours by more than is usual for them.

What is usual is their middle difference before, and how far it strayed. Which of the two
is wrong is not known: both go on judging, so that the one nearer to harm tells.
"""

import warnings
from typing import Final

import numpy as np

from monitor.model import Quantity
from monitor.watch.events import Values
from monitor.watch.trust.grid import Grid

_FAR: Final = {Quantity.HUMIDITY: 25.0}
FAR_K: Final = 5.0
_HOLD: Final = 12  # half hours
_LEARNED: Final = 36
_STRAYS: Final = 2.5


def far(quantity: Quantity) -> float:
    """Return what is far for two sensors of one place. [K or %]"""
    return _FAR.get(quantity, FAR_K)


def apart(here: Grid) -> dict[int, int]:
    """Return the row that strayed from another, and that other, as things stand at the end."""
    found: dict[int, int] = {}
    late, least = here.mean[:, -_HOLD:], far(here.quantity)
    differ = (np.abs(late[:, None] - late[None]) > least / 2).all(axis=2)
    for one, other in np.argwhere(np.triu(differ, 1)).tolist():
        if _apart(here.mean[one] - here.mean[other], least):
            strayed = _strayed(here.mean, one, other)
            found[strayed] = one if strayed == other else other
    return found


def _apart(differ: Values, least: float) -> bool:
    late, before = differ[-_HOLD:], differ[:-_HOLD]
    before = before[~np.isnan(before)]
    if before.size < _LEARNED:
        return False
    usual = float(np.median(before))
    strays = float(np.percentile(np.abs(before - usual), 95))
    return bool((np.abs(late - usual) > max(least, _STRAYS * strays)).all())


def _strayed(mean: Values, one: int, other: int) -> int:
    """Return which of two has left its own past further behind."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        moved = np.abs(
            np.nanmedian(mean[:, -_HOLD:], axis=1) - np.nanmedian(mean[:, :-_HOLD], axis=1)
        )
    return one if moved[one] > moved[other] else other
