"""The channels of one quantity in one place, side by side by the half hour."""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.model import Channel, PlaceKind, Quantity
from monitor.watch.events import Values
from monitor.watch.trust.blocks import BLOCKS, MILLI, Trust

Bools = npt.NDArray[np.bool_]
_NAN: Final = float("nan")


class Grid(NamedTuple):
    """Half hours in columns, channels in rows; NaN where nothing was read. [°C or %]"""

    quantity: Quantity
    kind: PlaceKind
    channels: tuple[Channel, ...]
    first: int  # the index of the first column
    mean: Values
    low: Values
    high: Values

    @property
    def known(self) -> Bools:
        """Return where something was read."""
        return ~np.isnan(self.mean)


def grid(kind: PlaceKind, pairs: Sequence[tuple[Channel, Trust]]) -> Grid | None:
    """Return the half hours that are over, of channels of one quantity; None without any."""
    ends = [trust.closed[-1].half for _, trust in pairs if trust.closed]
    if not ends:
        return None
    first = max(ends) - BLOCKS + 1
    columns = np.full((3, len(pairs), BLOCKS), _NAN)
    for row, (_, trust) in enumerate(pairs):
        blocks = [each for each in trust.closed if each.half >= first]
        if blocks:
            half, readings, total, low, high, *_ = np.array(blocks, dtype=np.float64).T
            at = half.astype(np.int64) - first
            columns[:, row, at] = total / MILLI / readings, low, high
    channels = tuple(channel for channel, _ in pairs)
    return Grid(channels[0].quantity, kind, channels, first, *columns)


def others(values: Values, row: int) -> Values:
    """Return every row but one."""
    return np.delete(values, row, axis=0)


def run_lengths(true: Bools) -> npt.NDArray[np.int64]:
    """Return at each column for how many columns, itself included, a row has been true."""
    count = np.arange(1, true.size + 1)
    return count - np.maximum.accumulate(np.where(true, 0, count))
