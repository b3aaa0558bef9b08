"""Sensors, their channels, and the calibration that is applied on reading."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.model import Quantity

_IMPOSSIBLE = 1e4
"""Intake lets nothing near it in: what a damaged file holds beyond it is no reading."""
_SHARES = (Quantity.HUMIDITY, Quantity.BATTERY)


@dataclass(frozen=True, slots=True)
class Calibration:
    """A correction in force from a time on: value = slope * raw + offset, in [°C] or [%]."""

    since_ms: int
    offset: float
    slope: float = 1.0
    note: str = ""


@dataclass(frozen=True, slots=True)
class ChannelSpec:
    """One quantity of a sensor, and where its value stands in a message.

    ``path`` is None for a bare number; ``unit`` is ``"C"``, ``"F"``, ``"K"``, ``"%"``, or
    ``""`` for door and mains. ``calibrations`` are in order of time.
    """

    quantity: Quantity
    path: str | None = None
    unit: str = "C"
    decimal_comma: bool = False
    calibrations: tuple[Calibration, ...] = ()


@dataclass(frozen=True, slots=True)
class Sensor:
    """An instrument in a place, and the topic it publishes on.

    ``gateway`` names what carries its messages, where several sensors share one.
    """

    id: str
    name: str
    place: str
    topic: str
    interval_s: float
    silent_after_s: float
    allowed_gap_s: float
    channels: tuple[ChannelSpec, ...]
    time_path: str | None = None
    hangs: str = ""
    gateway: str = ""

    def spec(self, quantity: Quantity) -> ChannelSpec | None:
        """Return how a quantity is read; None where this sensor does not tell it."""
        return next((each for each in self.channels if each.quantity is quantity), None)


def calibrated(
    spec: ChannelSpec, at_ms: NDArray[np.int64], raw: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return values as they are judged: calibrated by date, shares held to 0..100.

    Parameters
    ----------
    spec : ChannelSpec
        The channel with its dated calibrations.
    at_ms : ndarray
        Sample times. [ms since 1970]
    raw : ndarray
        As read, of the same shape. [°C], [%] or 0/1

    Returns
    -------
    ndarray
        A new array of the same shape; samples before the first calibration are as read,
        and what no sensor can have sent is NaN.
    """
    values: NDArray[np.float64] = np.array(raw, dtype=np.float64)
    values[np.abs(values) > _IMPOSSIBLE] = np.nan
    if spec.calibrations:
        since = np.array([each.since_ms for each in spec.calibrations], dtype=np.int64)
        slope = np.array([1.0, *(each.slope for each in spec.calibrations)])
        offset = np.array([0.0, *(each.offset for each in spec.calibrations)])
        which = np.searchsorted(since, at_ms, side="right")
        values = values * slope[which] + offset[which]
    if spec.quantity in _SHARES:
        values = np.clip(values, 0.0, 100.0)
    return values
