"""Pulling fills a store that is empty, from the first reading to the last."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from monitor.errors import StoreError
from monitor.farm import Mirror
from monitor.mirror.pulling import pull
from monitor.mirror.querying import LAST_MS, Query
from monitor.model import Channel
from monitor.store import Commit, ReadingReader, ReadingStore, Series
from tests.store.making import AIR, T0_MS, reading


class Meanwhile(Query):
    """A server that takes so long that a person imports readings meanwhile."""

    def __init__(self, path: Path) -> None:
        super().__init__(Mirror("http://127.0.0.1:9", "farms", "brook"))
        self._path = path

    def channels(self) -> dict[Channel, int]:
        """Return one channel."""
        return {AIR: 1}

    def pages(
        self, channel: Channel, since_ms: int = 0, until_ms: int = LAST_MS
    ) -> Iterator[Series]:
        """Yield one reading, after the import."""
        assert (channel, since_ms, until_ms) == (AIR, 0, LAST_MS)
        with closing(ReadingStore.open(self._path)) as store:
            store.commit(Commit([reading(T0_MS, 7.5)]))
        yield Series(np.array([T0_MS - 5]), np.array([4.5]), np.array([0]))


def test_what_was_imported_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    """Readings that came while it pulled stay, and it says that it fills an empty store only."""
    path = tmp_path / "readings.db"
    with pytest.raises(StoreError, match="holds readings already"):
        pull(Meanwhile(path), path)
    with closing(ReadingReader(path)) as reader:
        assert reader.series(AIR, 0, LAST_MS).raw.tolist() == [7.5]
    assert [each.name for each in tmp_path.iterdir() if "pulling" in each.name] == []
