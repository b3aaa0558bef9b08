"""What the watch is told: readings, the passing of time, clock steps, a new plan."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.model import Channel
from monitor.watch.plan import WatchPlan

Times = npt.NDArray[np.int64]
Values = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Readings of one channel, in any order.

    ``value`` is calibrated and clamped, [°C], [%] or 0/1; ``at_ms`` are sample times and
    ``received_ms`` the receipt of the last of them; ``flags`` as in ``model.Flag``.
    """

    channel: Channel
    at_ms: Times
    value: Values
    flags: npt.NDArray[np.integer[Any]]
    received_ms: int


@dataclass(frozen=True, slots=True)
class Tick:
    """Nothing happened, and it is now ``now_ms``."""

    now_ms: int


@dataclass(frozen=True, slots=True)
class ClockStepped:
    """The clock of this computer jumped by ``by_ms``, and it is now ``now_ms``."""

    now_ms: int
    by_ms: int


@dataclass(frozen=True, slots=True)
class Replanned:
    """The farm's files or the ledger of batches changed."""

    plan: WatchPlan
    now_ms: int


@dataclass(frozen=True, slots=True)
class Hearing:
    """The broker was lost (``deaf``), or is there again: nothing, or all, can be heard."""

    now_ms: int
    deaf: bool


Event = Samples | Tick | ClockStepped | Replanned | Hearing
