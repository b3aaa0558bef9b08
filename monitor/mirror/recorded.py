"""The places of sensors through time, read from the configurations the ledger has kept."""

from pathlib import Path

from monitor.farm import Farm, recall
from monitor.mirror.places import Places
from monitor.store import Ledger

FARM_FILE = "farm.toml"


class RecordedPlaces:
    """Reads the accepted configurations again whenever the ledger has been written.

    Used from one thread; ``farm`` stands in where none has been accepted yet.
    """

    def __init__(self, ledger: Path, farm: Farm) -> None:
        self._path = ledger
        self._farm = farm
        self._ledger: Ledger | None = None
        self._newest = -1
        self._places = Places(())

    def __call__(self) -> Places:
        """Return the places as they are known now."""
        if self._ledger is None:
            self._ledger = Ledger.open(self._path)
        newest = self._ledger.newest_configuration()
        if newest != self._newest:
            self._places = self._read(self._ledger)
            self._newest = newest
        return self._places

    def _read(self, ledger: Ledger) -> Places:
        accepted = []
        for each in ledger.configurations():
            found = recall({FARM_FILE: each.texts.get(FARM_FILE, "")})
            if found is not None:
                accepted.append((each.at_ms, {s.id: s.place for s in found.sensors.values()}))
        if not accepted:
            accepted = [(0, {each.id: each.place for each in self._farm.sensors.values()})]
        return Places(accepted)

    def close(self) -> None:
        """Close the ledger."""
        if self._ledger is not None:
            self._ledger.close()
            self._ledger = None
