"""Where a sensor hung when a reading was taken, by the configuration in force then."""

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from monitor.mirror.naming import NOWHERE


class Moves(NamedTuple):
    """A sensor's places: ``names[i]`` from ``since_ms[i]`` on; the first before that too."""

    since_ms: tuple[int, ...]
    names: tuple[str, ...]

    def at(self, at_ms: int) -> str:
        """Return the place at a time. [ms]"""
        return self.names[max(bisect_right(self.since_ms, at_ms) - 1, 0)]


class Places:
    """The places of every sensor through time.

    Parameters
    ----------
    accepted : sequence
        When each configuration was accepted [ms], and its places by sensor; oldest first.
    """

    def __init__(self, accepted: Sequence[tuple[int, Mapping[str, str]]]) -> None:
        moves: dict[str, tuple[list[int], list[str]]] = {}
        for at_ms, by_sensor in accepted:
            for sensor, place in by_sensor.items():
                since, names = moves.setdefault(sensor, ([], []))
                if not names or names[-1] != place:
                    since.append(at_ms)
                    names.append(place)
        self._moves = {
            sensor: Moves(tuple(since), tuple(names)) for sensor, (since, names) in moves.items()
        }

    def of(self, sensor: str) -> Moves:
        """Return where a sensor hung; one that is taken away stays where it was last."""
        return self._moves.get(sensor, Moves((0,), (NOWHERE,)))


PlacesNow = Callable[[], Places]
"""Returns the places as they are known now; called before each step."""
