"""Readings as columns: what a commit sorts, tells apart, and writes."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from monitor.model import Reading
from monitor.store.records import Floats, Ints


@dataclass(frozen=True, slots=True)
class Columns:
    """Readings side by side.

    ``channel`` is the number the file knows it by, ``position`` the place it arrived at.
    """

    channel: Ints
    at_ms: Ints
    raw: Floats
    flags: Ints
    received_ms: Ints
    position: Ints

    def __len__(self) -> int:
        return len(self.channel)

    def chosen(self, which: NDArray[np.bool_] | NDArray[np.int64]) -> "Columns":
        """Return some of them: a mask, or positions in the order wanted."""
        return Columns(*(getattr(self, each.name)[which] for each in fields(self)))

    def in_order(self) -> "Columns":
        """Return them by channel and time; equals stay as they arrived."""
        return self.chosen(np.lexsort((self.at_ms, self.channel)))


def columns(readings: Sequence[Reading], numbers: Sequence[int]) -> Columns:
    """Return readings as columns, in the order given."""
    n = len(readings)
    return Columns(
        np.fromiter(numbers, np.int64, n),
        np.fromiter((each.at_ms for each in readings), np.int64, n),
        np.fromiter((each.raw for each in readings), np.float64, n),
        np.fromiter((int(each.flags) for each in readings), np.int64, n),
        np.fromiter((each.received_ms for each in readings), np.int64, n),
        np.arange(n, dtype=np.int64),
    )
