"""Which limits and delays changed from one kept configuration to the next."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import NamedTuple, Protocol

from monitor.farm.recalling import Recalled, recall
from monitor.model import Band, Quantity


class Limit(NamedTuple):
    """One figure that decides on an alarm: whose, of what, and which.

    ``quantity`` is None for a time [s]; ``of`` then names what it belongs to, if anything.
    """

    subject: str
    name: str
    quantity: Quantity | None
    of: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Altered:
    """One limit that differs from the configuration before, in [°C], [%] or [s].

    None stands for no limit, and for a place, stage or sensor that was not there.
    """

    at_ms: int
    by: str
    limit: Limit
    before: float | None
    after: float | None


class Kept(Protocol):
    """A configuration as it was accepted."""

    @property
    def at_ms(self) -> int:
        """Return when it was accepted. [ms]"""

    @property
    def by(self) -> str:
        """Return by whom."""

    @property
    def texts(self) -> Mapping[str, str]:
        """Return its whole texts, by file."""


def altered(kept: Iterable[Kept]) -> list[Altered]:
    """Return every change of a limit or a delay, the oldest first.

    The first configuration that can be read is where it begins; one that can no longer be
    read is passed over, so a change made in it stands at the next that can.
    """
    changes: list[Altered] = []
    before: Mapping[Limit, float] | None = None
    for each in kept:
        found = recall(each.texts)
        if found is None:
            continue
        after = limits_of(found)
        if before is not None:
            changes += _compared(each, before, after)
        before = after
    return changes


def _compared(
    kept: Kept, before: Mapping[Limit, float], after: Mapping[Limit, float]
) -> Iterator[Altered]:
    for limit in dict.fromkeys(chain(before, after)):
        old, new = before.get(limit), after.get(limit)
        if old != new:
            yield Altered(kept.at_ms, kept.by, limit, old, new)


def limits_of(found: Recalled) -> dict[Limit, float]:
    """Return every limit and delay that a configuration sets, in [°C], [%] or [s]."""
    limits: dict[Limit, float | None] = {}
    for place in found.places.values():
        limits |= _of_bands(place.name, place.bands)
        limits[Limit(place.name, "off-delay", None)] = place.off_delay_s
        limits[Limit(place.name, "lag of what is kept there", None)] = place.lag_s
    for crop in found.crops.values():
        for stage in crop.stages.values():
            subject = f"{crop.name}, {stage.name}"
            limits |= _of_bands(subject, stage.bands)
            limits[Limit(subject, "least time", None)] = stage.least_s
            limits[Limit(subject, "longest time", None)] = stage.longest_s
            limits[Limit(subject, "told before the longest time", None)] = stage.tell_before_s
    return {key: value for key, value in limits.items() if value is not None}


def _of_bands(subject: str, bands: Mapping[Quantity, Band]) -> dict[Limit, float | None]:
    limits: dict[Limit, float | None] = {}
    for quantity, band in bands.items():
        if band.ideal is not None:
            limits[Limit(subject, "ideal from", quantity)] = band.ideal.low
            limits[Limit(subject, "ideal to", quantity)] = band.ideal.high
        if (harm := band.harm) is not None:
            limits[Limit(subject, "harm below", quantity)] = harm.low
            limits[Limit(subject, "harm above", quantity)] = harm.high
            limits[Limit(subject, "tolerated below", None, quantity)] = harm.tolerated_low_s
            limits[Limit(subject, "tolerated above", None, quantity)] = harm.tolerated_high_s
            limits[Limit(subject, "in all outside", None, quantity)] = harm.cumulative_s
    return limits
