"""What goes into the readings file in one commit, and what comes out of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from monitor.model import Channel, Reading, Refusal

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class UnclaimedTopic:
    """A topic that no sensor claims; ``count`` is added to what is already kept."""

    topic: str
    first_ms: int
    last_ms: int
    count: int
    sample: bytes = b""
    guess: str = ""


@dataclass(frozen=True, slots=True)
class Gap:
    """A span in which ``count`` readings were heard but could not be kept."""

    from_ms: int
    to_ms: int
    why: str
    count: int = 0


@dataclass(frozen=True, slots=True)
class Commit:
    """All that one transaction writes; nothing of it is kept unless all of it is.

    ``heard`` is the last receipt per sensor [ms]. ``window`` holds the (message id,
    checksum) of each QoS 1 message in it; ``clear_window`` forgets the earlier ones,
    when the broker had no session of ours.
    """

    readings: Sequence[Reading] = ()
    heard: Mapping[str, int] = field(default_factory=dict)
    window: Sequence[tuple[int, int]] = ()
    refusals: Sequence[Refusal] = ()
    unclaimed: Sequence[UnclaimedTopic] = ()
    gaps: Sequence[Gap] = ()
    clear_window: bool = False


@dataclass(frozen=True, slots=True)
class Committed:
    """What became of a commit's readings."""

    stored: int
    repeated: int  # same sample time, same value: kept once
    conflicting: int  # same sample time, other value: the first stands
    not_finite: int  # infinite or no number: refused
    readings: Sequence[Reading] = field(default=(), compare=False, repr=False)
    """Those stored, in order of arrival, at the times they were stored at."""


@dataclass(frozen=True, slots=True)
class Series:
    """Readings of one channel in order of time: times [ms], raw values, flags."""

    at_ms: Ints
    raw: Floats
    flags: Ints


class Width(Enum):
    """How long one row of a summary is. [ms]"""

    HOUR = 3_600_000
    EIGHT_HOURS = 28_800_000


@dataclass(frozen=True, slots=True)
class Summaries:
    """Hourly or 8-hourly summaries of one channel, rows without readings left out.

    Readings whose time is uncertain are not in them. Suspect readings are, since a
    held jump is no spike; ``suspect`` says how many of ``n`` they are.
    """

    start_ms: Ints
    n: Ints
    suspect: Ints
    mean: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a chart draws of one channel: buckets of one width, empty ones left out.

    ``width_ms`` is 0 where the readings themselves are given.
    """

    at_ms: Ints
    low: Floats
    high: Floats
    mean: Floats
    n: Ints
    width_ms: int


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two values for one sample time: the first was kept."""

    channel: Channel
    at_ms: int
    kept: float
    refused: float
    received_ms: int


@dataclass(frozen=True, slots=True)
class RefusalCount:
    """How often a sensor's ("" for none) messages were refused for one reason."""

    sensor: str
    reason: str
    count: int
    last_ms: int


@dataclass(frozen=True, slots=True)
class Configuration:
    """Farm files as they were accepted: whole texts, hash, when and by whom."""

    id: int
    at_ms: int
    by: str
    digest: str
    texts: Mapping[str, str]
