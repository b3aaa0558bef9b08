"""A batch's life cut into pieces: one place, one stage, one set of limits each.

A stay is cut where the farm's limits changed, so that each moment is judged by the bands
in force then.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from monitor.model import Band, Batch, Quantity, Stay


@dataclass(frozen=True, slots=True)
class Version:
    """The bands of a crop's stages as accepted at a time; the first holds before it too.

    ``places`` are the bands of places: they hold for a quantity the stage has none for.
    """

    since_ms: int
    bands: Mapping[str, Mapping[Quantity, Band]]
    places: Mapping[str, Mapping[Quantity, Band]] = field(default_factory=dict)

    def at(self, place: str, stage: str) -> Mapping[Quantity, Band]:
        """Return the bands for a batch at a stage in a place."""
        return {**self.places.get(place, {}), **self.bands.get(stage, {})}


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a stay during which nothing changed. [ms]"""

    place: str
    stage: str
    since_ms: int
    until_ms: int
    bands: Mapping[Quantity, Band]


def pieces(batch: Batch, versions: Sequence[Version], until_ms: int) -> list[Piece]:
    """Return a batch's life up to a time, cut at its moves and at changed limits.

    Parameters
    ----------
    batch : Batch
        As its entries tell.
    versions : sequence of Version
        In order of time; may be empty, then nothing has limits.
    until_ms : int
        Now, or the end of what is asked for. [ms]
    """
    known = list(versions) or [Version(0, {})]
    found: list[Piece] = []
    for stay in batch.stays:
        end_ms = until_ms if stay.until_ms is None else min(stay.until_ms, until_ms)
        for version, following in zip(known, [*known[1:], None], strict=True):
            found += _piece(stay, version, known[0], following, end_ms)
    return found


def _piece(
    stay: Stay, version: Version, first: Version, following: Version | None, end_ms: int
) -> list[Piece]:
    """Return the piece of a stay that a version held in, if any."""
    since_ms = stay.since_ms if version is first else max(stay.since_ms, version.since_ms)
    until_ms = end_ms if following is None else min(end_ms, following.since_ms)
    if until_ms <= since_ms:
        return []
    bands = version.at(stay.place, stay.stage)
    return [Piece(stay.place, stay.stage, since_ms, until_ms, bands)]
