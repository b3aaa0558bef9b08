"""The cooling cycle, read from air temperature alone.

The air falls while the compressor runs and rises while it rests. Turning points are
found by a least swing, so noise smaller than it turns nothing; a gap ends a cycle, and a
cycle cut by a gap is left out.

References
----------
On-off control of a first-order room: t_off = tau ln((Ta-Tlo)/(Ta-Thi)), and alike for
t_on towards the cold asymptote (any text on control; from memory).
"""

from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np

from monitor.science.checking import Flags, Floats, Ints, positive
from monitor.science.series import Samples

LEAST_SWING_K: Final = 0.4
LEAST_CYCLES: Final = 6
_HOUR_MS: Final = 3_600_000.0


class Turns(NamedTuple):
    """Turning points, shape (k,) each, alternating within a stretch without gaps.

    ``sample`` numbers the readings, ``stretch`` the stretch each belongs to.
    """

    sample: Ints
    high: Flags
    stretch: Ints


def _zigzag(values: list[float], swing: float) -> list[tuple[int, bool]]:
    """Return (index, is high) of turns; the first, an end and no turn, is left out."""
    turns: list[tuple[int, bool]] = []
    low = high = heading = 0
    for k, value in enumerate(values):
        high = k if value > values[high] else high
        low = k if value < values[low] else low
        if heading >= 0 and values[high] - value >= swing:
            turns.append((high, True))
            heading, low = -1, k
        elif heading <= 0 and value - values[low] >= swing:
            turns.append((low, False))
            heading, high = 1, k
    return turns[1:]


def turns(air: Samples, least_swing_k: float = LEAST_SWING_K) -> Turns:
    """Return where the air turned.

    Parameters
    ----------
    air : Samples
        Air temperature. [°C]
    least_swing_k : float
        Over zero and over the sensor's noise, under the thermostat's swing. [K]

    Raises
    ------
    OutOfRangeError
        If the least swing is not over zero.
    """
    positive("the least swing", least_swing_k, "K")
    bounds = [0, *(np.flatnonzero(~air.joined) + 1).tolist(), len(air.at_ms)]
    values = air.value.tolist()
    found = [
        (begin + k, high, number)
        for number, (begin, end) in enumerate(pairwise(bounds))
        for k, high in _zigzag(values[begin:end], least_swing_k)
    ]
    columns = np.array(found, dtype=np.int64).reshape(-1, 3)
    return Turns(columns[:, 0], columns[:, 1] == 1, columns[:, 2])


class Cycles(NamedTuple):
    """Whole cycles from low over high to low, shape (k,) each.

    Times are UTC [ms], lengths [s], temperatures [°C]; ``running_share`` is the share
    of the cycle in which the air fell.
    """

    from_ms: Ints
    peak_ms: Ints
    until_ms: Ints
    low_c: Floats
    high_c: Floats
    next_low_c: Floats

    @property
    def rise_s(self) -> Floats:
        """Return how long the air rose. [s]"""
        return np.asarray((self.peak_ms - self.from_ms) / 1000.0)

    @property
    def period_s(self) -> Floats:
        """Return the length of each cycle. [s]"""
        return np.asarray((self.until_ms - self.from_ms) / 1000.0)

    @property
    def running_share(self) -> Floats:
        """Return the share of each cycle in which the air fell, 0 to 1."""
        return np.asarray((self.until_ms - self.peak_ms) / (self.until_ms - self.from_ms))

    @property
    def swing_k(self) -> Floats:
        """Return how far the air fell in each cycle. [K]"""
        return np.asarray(self.high_c - self.next_low_c)


def cycles(air: Samples, at: Turns) -> Cycles:
    """Return the whole cycles between turning points."""
    begin = np.flatnonzero(~at.high[:-2]) if len(at.high) > 2 else np.zeros(0, np.int64)  # noqa: PLR2004
    begin = begin[at.stretch[begin] == at.stretch[begin + 2]] if begin.size else begin
    low, high, after = at.sample[begin], at.sample[begin + 1], at.sample[begin + 2]
    return Cycles(
        air.at_ms[low], air.at_ms[high], air.at_ms[after],
        air.value[low], air.value[high], air.value[after],
    )  # fmt: skip


def pick(of: Cycles, which: Flags) -> Cycles:
    """Return some of the cycles."""
    return Cycles(
        of.from_ms[which], of.peak_ms[which], of.until_ms[which],
        of.low_c[which], of.high_c[which], of.next_low_c[which],
    )  # fmt: skip


class Usual(NamedTuple):
    """What is usual for this cooler: medians over its cycles, and the spread of its peaks."""

    cycles: int
    period_s: float
    running_share: float
    swing_k: float
    low_c: float
    high_c: float
    high_spread_k: float
    rise_k_h: float
    longest_rise_s: float


def usual(of: Cycles) -> Usual | None:
    """Return what is usual, or None under six whole cycles.

    Medians leave defrosts and doors out as long as they are fewer than half the cycles.
    """
    if len(of.from_ms) < LEAST_CYCLES:
        return None
    high_c = float(np.median(of.high_c))
    spread_k = 1.4826 * float(np.median(np.abs(of.high_c - high_c)))
    climbed = (of.high_c - of.low_c) / (of.rise_s / 3600.0)
    return Usual(
        len(of.from_ms), float(np.median(of.period_s)), float(np.median(of.running_share)),
        float(np.median(of.swing_k)), float(np.median(of.low_c)), high_c, spread_k,
        float(np.median(climbed)), float(np.quantile(of.rise_s, 0.95)),
    )  # fmt: skip


def pull_down_k_h(of: Cycles) -> Floats:
    """Return how fast the air fell in each cycle, on average. [K/h]

    A rate that sinks over weeks, at the same room outside, tells of a failing machine or
    an iced coil.
    """
    return np.asarray((of.high_c - of.next_low_c) * _HOUR_MS / (of.until_ms - of.peak_ms))
