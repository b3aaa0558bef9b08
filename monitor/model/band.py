"""Limits of places and stages, with their grade of evidence."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from monitor.model.place import PlaceKind
from monitor.model.reading import Quantity


class Grade(StrEnum):
    """How well a limit is founded."""

    PUBLISHED = "P"
    EXTENSION = "E"
    GROWERS = "G"
    COMMON_PRACTICE = "CP"
    MEMORY = "?"
    FARM = "farm"


class Side(StrEnum):
    """The side of a band a value is out on."""

    LOW = "low"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class Ideal:
    """Limits whose crossing is drift: told in the morning, kept in the history."""

    low: float | None
    high: float | None
    grade: Grade
    source: str


@dataclass(frozen=True, slots=True)
class Harm:
    """Limits whose crossing, for longer than tolerated, wakes someone.

    The limit value itself counts as outside. ``cumulative_s`` bounds the whole time
    outside during a stay, where it is set.
    """

    low: float | None
    high: float | None
    tolerated_low_s: float
    tolerated_high_s: float
    grade: Grade
    source: str
    cumulative_s: float | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """Ideal and harm limits of one quantity, in [°C] or [%]."""

    ideal: Ideal | None = None
    harm: Harm | None = None


@dataclass(frozen=True, slots=True)
class Stage:
    """A step of a crop's life here.

    ``least_s`` and ``longest_s`` are times at the stage; ``tell_before_s`` is how long
    before the longest time's end the grower is told, where lateness harms
    (``late_harms``); else it is a line in the morning message.
    """

    id: str
    name: str
    place_kinds: tuple[PlaceKind, ...]
    bands: Mapping[Quantity, Band] = field(default_factory=dict)
    least_s: float | None = None
    longest_s: float | None = None
    tell_before_s: float = 0.0
    late_harms: bool = False
    time_grade: Grade = Grade.COMMON_PRACTICE
    time_source: str = ""
