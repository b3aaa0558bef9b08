"""The copy of the readings elsewhere, as a part of the daemon: started only where configured."""

from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

from monitor.clock import Clock
from monitor.farm import Farm, Mirror
from monitor.mirror.recorded import RecordedPlaces
from monitor.mirror.standing import MirrorStanding


def _nothing() -> None:
    """Do nothing."""


class Mirroring:
    """Runs the mirror's thread, and begins it anew when ``[mirror]`` changes.

    The client library is loaded by ``use`` only where a farm has a mirror. Nothing here waits
    for the network.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._mirror: Mirror | None = None
        self._stop: Callable[[], None] = _nothing
        self._standing: Callable[[], MirrorStanding | None] = _nothing

    def use(self, farm: Farm) -> None:
        """Copy as this farm wants it; from any thread."""
        if farm.mirror == self._mirror:
            return
        self.stop()
        if farm.mirror is not None:
            self._start(farm, farm.mirror)

    def _start(self, farm: Farm, mirror: Mirror) -> None:
        from monitor.mirror.worker import (  # noqa: PLC0415 - the library is large, and seldom needed
            Forwarder,
            MirrorThread,
            Source,
        )

        data: Path = farm.data_dir
        clock = self._clock

        def make() -> Forwarder:
            places = RecordedPlaces(data / "ledger.db", farm)
            return Forwarder(mirror, Source(data, places, clock))

        thread = MirrorThread(make, data, urlsplit(mirror.url).hostname or mirror.url, clock)
        thread.start()
        self._mirror = mirror
        self._stop = thread.stop
        self._standing = lambda: thread.standing

    def stop(self) -> None:
        """End it; what is in flight is sent again at the next start."""
        self._stop()
        self._stop, self._mirror = _nothing, None

    @property
    def standing(self) -> MirrorStanding | None:
        """Return how it goes, None where no mirror is configured."""
        return None if self._mirror is None else self._standing()
