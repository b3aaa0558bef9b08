"""What the screening of single readings begins from after a restart."""

from pathlib import Path

import pytest

from monitor.daemon.intake import believed_before
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import Commit, ReadingReader, ReadingStore

_DAMP = Channel("bench", Quantity.HUMIDITY)
_AT_MS = 1_773_000_000_000


@pytest.mark.parametrize("last", [Flag.SUSPECT, Flag.NONE])
def test_the_last_believed_reading_is_found_where_the_newest_is_doubted(
    tmp_path: Path, last: Flag
) -> None:
    """From the store: 98 % a minute before a doubted 3 %; nothing where none is doubted."""
    kept = [
        Reading(_DAMP, _AT_MS, 97.0, Flag.NONE, _AT_MS),
        Reading(_DAMP, _AT_MS + 60_000, 98.0, Flag.NONE, _AT_MS + 60_000),
        Reading(_DAMP, _AT_MS + 120_000, 3.0, Flag.SUSPECT, _AT_MS + 120_000),
        Reading(_DAMP, _AT_MS + 180_000, 3.1, last, _AT_MS + 180_000),
    ]
    store = ReadingStore.open(tmp_path / "readings.db")
    store.commit(Commit(kept))
    reader = ReadingReader(tmp_path / "readings.db")
    found = list(believed_before(reader, reader.newest().values()))
    reader.close()
    store.close()
    expected = [(_AT_MS + 60_000, 98.0)] if last else []
    assert [(each.at_ms, each.raw) for each in found] == expected
