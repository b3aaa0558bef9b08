"""Samples of one quantity with gaps: what is known between them, and what is not.

Between two samples no further apart than the allowed gap the quantity is taken to run
straight from one to the other; across a longer gap, and before the first and after the
last sample, it is unknown. Nothing is guessed there: it counts against coverage.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from monitor.errors import OutOfRangeError
from monitor.science.checking import Flags, Floats, Ints, positive


@dataclass(frozen=True, slots=True)
class Samples:
    """Values of one quantity, in time order.

    Parameters
    ----------
    at_ms : ndarray of int64, shape (n,)
        UTC, strictly increasing. [ms]
    value : ndarray of float64, shape (n,)
        Finite; in the unit of the quantity.
    allowed_gap_s : float
        Longest step that is still interpolated, itself included. [s]

    Raises
    ------
    OutOfRangeError
        If times do not strictly increase, a value is not finite, the shapes differ or
        the allowed gap is not over zero.
    """

    at_ms: Ints
    value: Floats
    allowed_gap_s: float

    def __post_init__(self) -> None:
        positive("the allowed gap", self.allowed_gap_s, "s")
        if self.at_ms.ndim != 1 or self.at_ms.shape != self.value.shape:
            raise OutOfRangeError(
                f"{self.at_ms.shape} times and {self.value.shape} values: give one time a value"
            )
        if not np.isfinite(self.value).all():
            raise OutOfRangeError("a value is not finite: leave refused readings out")
        if (np.diff(self.at_ms) <= 0).any():
            raise OutOfRangeError("times do not strictly increase: sort them, one value a time")

    @property
    def step_s(self) -> Floats:
        """Return the length of each step between samples, shape (n-1,). [s]"""
        return np.asarray(np.diff(self.at_ms) / 1000.0, dtype=np.float64)

    @property
    def joined(self) -> Flags:
        """Return which steps are interpolated, shape (n-1,)."""
        return np.asarray(self.step_s <= self.allowed_gap_s)

    @property
    def known_s(self) -> float:
        """Return the time whose value is known. [s]"""
        return float(self.step_s[self.joined].sum())


class Extremes(NamedTuple):
    """Least and greatest value with their first times (UTC [ms])."""

    low: float
    low_at_ms: int
    high: float
    high_at_ms: int


def value_at(samples: Samples, at_ms: Ints) -> Floats:
    """Return interpolated values at times, shape of ``at_ms``; NaN where unknown."""
    if not len(samples.at_ms):
        return np.full(at_ms.shape, np.nan)
    value = np.interp(at_ms, samples.at_ms, samples.value, left=np.nan, right=np.nan)
    if len(samples.at_ms) > 1:
        after = np.searchsorted(samples.at_ms, at_ms).clip(1, len(samples.at_ms) - 1)
        on_sample = (samples.at_ms[after] == at_ms) | (samples.at_ms[after - 1] == at_ms)
        step_ms = samples.at_ms[after] - samples.at_ms[after - 1]
        value[~((step_ms <= samples.allowed_gap_s * 1000.0) | on_sample)] = np.nan
    return value


def clip(samples: Samples, since_ms: int, until_ms: int) -> Samples:
    """Return the samples of a period, with its ends interpolated where they are known.

    Hand in samples from a little before to a little after the period, else its edges
    count as unknown.

    Raises
    ------
    OutOfRangeError
        If the period ends before it begins.
    """
    if until_ms < since_ms:
        raise OutOfRangeError("the period ends before it begins: give since before until")
    first = int(np.searchsorted(samples.at_ms, since_ms, side="left"))
    last = int(np.searchsorted(samples.at_ms, until_ms, side="right"))
    at_ms, value = samples.at_ms[first:last], samples.value[first:last]
    for end_ms in (since_ms, until_ms):
        known = value_at(samples, np.array([end_ms], dtype=np.int64))
        place = int(np.searchsorted(at_ms, end_ms))
        if not np.isnan(known[0]) and end_ms not in at_ms[place : place + 1]:
            at_ms = np.insert(at_ms, place, end_ms)
            value = np.insert(value, place, known[0])
    return Samples(at_ms, value, samples.allowed_gap_s)


def coverage(samples: Samples, since_ms: int, until_ms: int) -> float:
    """Return the share of a period whose value is known, 0 to 1.

    Raises
    ------
    OutOfRangeError
        If the period does not last.
    """
    length_s = positive("the period", (until_ms - since_ms) / 1000.0, "s")
    return min(1.0, clip(samples, since_ms, until_ms).known_s / length_s)


def unknown_spans(samples: Samples, since_ms: int, until_ms: int) -> Ints:
    """Return the unknown parts of a period as rows (from, to), shape (k, 2). UTC [ms]"""
    part = clip(samples, since_ms, until_ms)
    if not len(part.at_ms):
        return np.array([[since_ms, until_ms]], dtype=np.int64).reshape(-1, 2)
    gaps = ~part.joined
    begins = np.concatenate([[since_ms], part.at_ms[:-1][gaps], [part.at_ms[-1]]])
    ends = np.concatenate([[part.at_ms[0]], part.at_ms[1:][gaps], [until_ms]])
    spans = np.stack([begins, ends], axis=1).astype(np.int64)
    return np.asarray(spans[spans[:, 1] > spans[:, 0]])


def integral(samples: Samples) -> float:
    """Return the integral over the known time. [unit of the value times s]"""
    middle = (samples.value[1:] + samples.value[:-1]) / 2.0
    return float((middle * samples.step_s)[samples.joined].sum())


def mean(samples: Samples) -> float | None:
    """Return the time-weighted mean over the known time, or None where none is known."""
    known_s = samples.known_s
    return integral(samples) / known_s if known_s > 0.0 else None


def extremes(samples: Samples) -> Extremes | None:
    """Return the extremes: of straight lines they are at samples. None without samples."""
    if not len(samples.value):
        return None
    low, high = int(np.argmin(samples.value)), int(np.argmax(samples.value))
    return Extremes(
        float(samples.value[low]), int(samples.at_ms[low]),
        float(samples.value[high]), int(samples.at_ms[high]),
    )  # fmt: skip
