"""A whole farm made up: what its sensors would publish, in order of time."""

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np

from monitor.errors import UnknownNameError
from monitor.farm import Farm
from simulator.building import build_place, climate_of, instruments, place_faults
from simulator.dice import Times
from simulator.faults import PLACE_FAULTS, SENSOR_FAULTS, Fault
from simulator.payload import payloads
from simulator.surroundings import frost_nights, surroundings
from simulator.truth import Truth
from simulator.weather import Weather

STEP_S: Final = 60.0
_STEP_MS: Final = 60_000
_BLOCK_STEPS: Final = 360
_WARM_UP_STEPS: Final = 720


class Published(NamedTuple):
    """A message: when [ms], where to, and its bytes."""

    at_ms: int
    topic: str
    payload: bytes


class SimulatedFarm:
    """The farm of a configuration, played from a time on.

    It lives in blocks of six hours, each reckoned when first asked for, so that the same
    farm, seed, start and faults give the same bytes however the time is cut up.

    Parameters
    ----------
    farm : Farm
        Its places, sensors, position and time zone.
    seed : int
        Another seed is another weather, other machines, other people's days.
    start_ms : int
        The first moment that is published. [ms]
    faults : sequence of Fault
        What goes wrong.
    """

    def __init__(self, farm: Farm, seed: int, start_ms: int, faults: Sequence[Fault] = ()) -> None:
        self._farm = farm
        self._start_ms = start_ms
        own = tuple(faults)
        _check(farm, own)
        climate = climate_of(farm)
        self.weather = Weather(climate, seed, frost_nights(climate, own))
        self._edge_ms = start_ms // _STEP_MS * _STEP_MS - _WARM_UP_STEPS * _STEP_MS
        around = surroundings(self.weather, farm.zone, self._ends(1))
        self._places = {
            place.id: build_place(farm, place, around, seed, place_faults(place.id, own))
            for place in farm.places.values()
        }
        self._instruments = instruments(farm, seed, own)
        self._block = 0
        self._waiting: deque[Published] = deque()
        self.truth: Mapping[str, Truth] = self._play(_WARM_UP_STEPS)

    def messages(self, until_ms: int) -> Iterator[Published]:
        """Yield the messages up to a time [ms] that were not yielded before, in order."""
        while True:
            while self._waiting and self._waiting[0].at_ms <= until_ms:
                yield self._waiting.popleft()
            if self._edge_ms > until_ms:
                return
            self._next_block()

    def truths(self, until_ms: int) -> Iterator[Mapping[str, Truth]]:
        """Yield what really was, by place and block; such a farm publishes nothing more."""
        while self._edge_ms <= until_ms:
            self.truth = self._play(_BLOCK_STEPS)
            yield self.truth

    def _next_block(self) -> None:
        """Play six hours more and line up what was published in them."""
        first_ms = max(self._edge_ms, self._start_ms)
        self.truth = self._play(_BLOCK_STEPS)
        published = []
        for sensor in self._farm.sensors.values():
            readings = self._instruments[sensor.id].read(
                self.truth[sensor.place], self._block, first_ms
            )
            published += [Published(at_ms, sensor.topic, said)
                          for at_ms, said in payloads(sensor, readings)]  # fmt: skip
        self._block += 1
        self._waiting.extend(sorted(published, key=lambda each: each[:2]))

    def _play(self, steps: int) -> dict[str, Truth]:
        around = surroundings(self.weather, self._farm.zone, self._ends(steps))
        self._edge_ms += steps * _STEP_MS
        return {name: place.play(around, STEP_S) for name, place in self._places.items()}

    def _ends(self, steps: int) -> Times:
        """Return when the next steps end. [ms]"""
        return self._edge_ms + _STEP_MS * np.arange(1, steps + 1, dtype=np.int64)


def _check(farm: Farm, faults: Sequence[Fault]) -> None:
    """Refuse a fault in a place or sensor that the farm does not have."""
    for each in faults:
        if each.kind in SENSOR_FAULTS:
            known, what = set(farm.sensors), "sensor"
        elif each.kind in PLACE_FAULTS:
            known, what = set(farm.places), "place"
        else:
            known, what = {"", *farm.places, *farm.sensors}, "place or sensor"
        if each.subject not in known:
            names = ", ".join(sorted(known - {""})) or "none is declared"
            raise UnknownNameError(
                f"{each.kind} needs a {what} of the farm, not {each.subject!r}: name one of {names}"
            )
