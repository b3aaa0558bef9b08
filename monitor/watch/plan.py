"""What is to be judged: the lines of each channel, compiled from the farm and its batches."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from monitor.model import AlarmKind, Channel, PlaceKind, Quantity, Side

JUDGED: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SOIL_TEMPERATURE)

KIND_OF: Final[Mapping[tuple[Quantity, Side], AlarmKind]] = {
    (Quantity.TEMPERATURE, Side.HIGH): AlarmKind.TOO_WARM,
    (Quantity.TEMPERATURE, Side.LOW): AlarmKind.TOO_COLD,
    (Quantity.SOIL_TEMPERATURE, Side.HIGH): AlarmKind.TOO_WARM,
    (Quantity.SOIL_TEMPERATURE, Side.LOW): AlarmKind.TOO_COLD,
    (Quantity.HUMIDITY, Side.HIGH): AlarmKind.TOO_WET,
    (Quantity.HUMIDITY, Side.LOW): AlarmKind.TOO_DRY,
}


class LineKey(NamedTuple):
    """What makes two lines of one channel the same one; ``batch`` for a bound on a stay."""

    ideal: bool
    side: Side
    limit: float
    tolerated_ms: int | None
    batch: int | None


@dataclass(frozen=True, slots=True)
class Line:
    """One limit on one side, in [°C] or [%], that one channel is judged by.

    ``kind`` is None for an ideal limit: it drifts, and never alarms. ``tolerated_ms``
    bounds one run outside, ``cumulative_ms`` all of them since ``since_ms``; each is None
    where the other stands. ``owners`` are ``"place"`` and ``"batch:14"``: whose limit it is.
    """

    side: Side
    limit: float
    kind: AlarmKind | None
    tolerated_ms: int | None
    cumulative_ms: int | None
    since_ms: int | None
    batch: int | None
    deadband: float
    off_delay_ms: int
    owners: tuple[str, ...]

    @property
    def sign(self) -> float:
        """Return +1 for a limit above, -1 for one below."""
        return 1.0 if self.side is Side.HIGH else -1.0

    @property
    def key(self) -> LineKey:
        """Return what names the line within its channel."""
        return LineKey(self.kind is None, self.side, self.limit, self.tolerated_ms, self.batch)


class Ahead(NamedTuple):
    """A harm limit that is told ahead, by the straight line of the last hour.

    ``within_k`` is how near it has to be [K], ``least_k_h`` how fast at least [K/h], ``ahead_ms``
    how soon. By day it counts until ``before_ms`` before the sun's noon, ``noon_ms`` after
    midnight UTC; None: at all hours.
    """

    line: Line
    within_k: float
    least_k_h: float
    ahead_ms: int
    noon_ms: int | None = None
    before_ms: int = 0


@dataclass(frozen=True, slots=True)
class ChannelPlan:
    """How one channel is judged. ``quiet_above``..``quiet_below``: where no line is near."""

    channel: Channel
    place: str
    gap_ms: int
    silent_after_ms: int
    lines: tuple[Line, ...]
    quiet_above: float
    quiet_below: float
    early: Line | None = None  # a cooler's air that warms as it never does
    loadings: tuple[tuple[int, int], ...] = ()  # rises that begin in them are no habit [ms]
    aheads: tuple[Ahead, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacePlan:
    """One place: its channels and the batches in it.

    ``lag_ms`` is how slowly what is kept there follows the air, 0 where not known, and
    ``top_c`` the lowest harm limit above, which it has to stay below. [°C]
    ``held`` says that something there is held for an order;
    ``loadings`` are when it was, is and will be loaded: from, until. [ms]
    """

    id: str
    kind: PlaceKind
    channels: tuple[Channel, ...]
    batches: tuple[int, ...]
    lag_ms: int = 0
    top_c: float | None = None
    held: bool = False
    loadings: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class SensorPlan:
    """One sensor: where it hangs and how long it may say nothing."""

    id: str
    place: str
    interval_ms: int
    silent_after_ms: int
    gateway: str = ""


@dataclass(frozen=True, slots=True)
class Due:
    """A stage whose longest time ends; told ahead from ``due_ms`` where lateness harms."""

    batch: int
    place: str
    stage: str
    since_ms: int
    due_ms: int
    ends_ms: int
    late_harms: bool


@dataclass(frozen=True, slots=True)
class Misplaced:
    """A batch in a place that harms it, or that its stage is never kept in.

    ``text`` says what is wrong, in the farm's units; ``fits`` names places where it keeps.
    """

    batch: int
    place: str
    since_ms: int
    harmful: bool
    text: str
    fits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WatchPlan:
    """Everything the watch judges by; a new one replaces it whole."""

    places: Mapping[str, PlacePlan]
    channels: Mapping[Channel, ChannelPlan]
    sensors: Mapping[str, SensorPlan]
    dues: tuple[Due, ...]
    misplaced: tuple[Misplaced, ...] = ()
