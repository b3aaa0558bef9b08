"""The last two days of a channel as half hours: mean, extremes, and how often what was odd.

Sums are whole thousandths, so that they do not depend on how readings were packed.
"""

from dataclasses import dataclass, field, replace
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.model import Flag
from monitor.watch.events import Times, Values

BLOCK_MS: Final = 1_800_000
BLOCKS: Final = 96
MILLI: Final = 1000.0
_REFUSED: Final = int(Flag.TIME_REFUSED)
_UNIT: Final = int(Flag.UNIT_SUSPECT)
_ODD: Final = _REFUSED | _UNIT

Flags = npt.NDArray[np.integer[Any]]


class Block(NamedTuple):
    """Half an hour of readings: ``total`` is their sum in thousandths."""

    half: int  # which half hour
    readings: int
    total: int
    low: float
    high: float
    refused: int  # readings whose own time was refused
    unit: int  # readings that look like another unit

    @property
    def mean(self) -> float:
        """Return the mean of the half hour. [°C or %]"""
        return self.total / MILLI / self.readings


@dataclass(frozen=True, slots=True)
class Trust:
    """The half hours that are over, oldest first, and the one that lasts."""

    closed: tuple[Block, ...] = ()
    now: Block | None = field(default=None)


def after(trust: Trust, at_ms: Times, value: Values, flags: Flags) -> Trust:
    """Return a channel's half hours after readings that are newer than all before, in order.

    Parameters
    ----------
    trust : Trust
        What was known before.
    at_ms, value, flags : ndarray
        Sample times [ms], values [°C or %], flags as in ``model.Flag``; at least one.
    """
    first, last = int(at_ms[0]) // BLOCK_MS, int(at_ms[-1]) // BLOCK_MS
    now = trust.now
    if first == last:
        block = _block(first, value, flags)
        if now is None or first > now.half:
            return Trust(trust.closed if now is None else (*trust.closed, now)[-BLOCKS:], block)
        return Trust(trust.closed, _joined(now, block))
    index = at_ms // BLOCK_MS
    blocks = _blocks(index, value, flags)[-BLOCKS - 1 :]
    if now is not None:
        blocks = (
            [now, *blocks] if blocks[0].half > now.half else [_joined(now, blocks[0]), *blocks[1:]]
        )
    return Trust((*trust.closed, *blocks[:-1])[-BLOCKS:], blocks[-1])


def _blocks(index: Times, value: Values, flags: Flags) -> list[Block]:
    """Return the half hours of readings, all at once."""
    begins = np.append(0, np.flatnonzero(index[1:] != index[:-1]) + 1)
    columns = (
        index[begins],
        np.diff(np.append(begins, len(index))),
        np.add.reduceat(np.rint(value * MILLI).astype(np.int64), begins),
        np.minimum.reduceat(value, begins),
        np.maximum.reduceat(value, begins),
        np.add.reduceat((flags & _REFUSED != 0).astype(np.int64), begins),
        np.add.reduceat((flags & _UNIT != 0).astype(np.int64), begins),
    )
    return [Block(*row) for row in zip(*(each.tolist() for each in columns), strict=True)]


def _block(half: int, value: Values, flags: Flags) -> Block:
    if len(value) == 1:
        one, flag = float(value[0]), int(flags[0])
        marks = (int(bool(flag & _REFUSED)), int(bool(flag & _UNIT)))
        return Block(half, 1, round(one * MILLI), one, one, *marks)
    total = int(np.rint(value * MILLI).sum())
    marks = (0, 0)
    if (flags & _ODD).any():
        marks = (int(np.count_nonzero(flags & _REFUSED)), int(np.count_nonzero(flags & _UNIT)))
    return Block(half, len(value), total, float(value.min()), float(value.max()), *marks)


def _joined(one: Block, more: Block) -> Block:
    return Block(
        one.half, one.readings + more.readings, one.total + more.total, min(one.low, more.low),
        max(one.high, more.high), one.refused + more.refused, one.unit + more.unit,
    )  # fmt: skip


def moved(trust: Trust, by_ms: int) -> Trust:
    """Return the half hours of a channel whose clock was set, to the nearest half hour."""
    by = round(by_ms / BLOCK_MS)
    if by == 0 or trust.now is None:
        return trust
    closed = tuple(each._replace(half=each.half + by) for each in trust.closed)
    return replace(trust, closed=closed, now=trust.now._replace(half=trust.now.half + by))
