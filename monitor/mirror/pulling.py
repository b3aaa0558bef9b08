"""Filling an empty store from the other side: readings as they were, bit by bit.

Only readings are there. Batches, alarms and accepted configurations are the ledger's: they
come from a backup. Nothing half-done remains: readings are pulled into a file beside, which
takes its name at the end.
"""

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import numpy as np

from monitor.errors import MirrorError, StoreError
from monitor.farm import Mirror
from monitor.mirror.querying import Query
from monitor.mirror.standing import target
from monitor.model import Channel, Flag, Reading
from monitor.store import ArrivalReader, Commit, MirrorFile, ReadingStore, Series

ROWS = 5_000


def check_empty(path: Path) -> None:
    """Make sure that no reading would be mixed with those that come.

    Raises
    ------
    StoreError
        If the file holds readings.
    """
    if not path.exists():
        return
    reader = ArrivalReader(path)
    try:
        held = reader.channels()
    finally:
        reader.close()
    if held:
        raise StoreError(
            f"{path} holds readings already: pull fills an empty store, so name a folder "
            "without readings with --farm"
        )


def pull(
    query: Query, path: Path, told: Callable[[int], object] = lambda _readings: None
) -> dict[Channel, int]:
    """Fill a readings file with all that a site has on the other side.

    Parameters
    ----------
    query : Query
        The site asked for.
    path : Path
        The file to be; none with readings may stand there.
    told : callable
        Told of the readings of each page.

    Returns
    -------
    dict
        How many readings of each channel were stored.

    Raises
    ------
    StoreError
        If a file with readings stands there, or cannot be written.
    MirrorError
        If the other side does not answer, or has nothing of that site.
    """
    check_empty(path)
    there = query.channels()
    if not there:
        raise MirrorError(f"the mirror holds nothing of the site {query.site!r}: look at its name")
    partial = path.with_name(f"{path.name}.pulling")
    _clear(partial)
    store = ReadingStore.open(partial)
    try:
        counts = {channel: _pull(query, store, channel, told) for channel in there}
    except BaseException:
        store.close()
        _clear(partial)
        raise
    store.close()
    try:
        check_empty(path)  # pulling takes hours: an import may have filled it meanwhile
    except StoreError:
        _clear(partial)
        raise
    _clear(path)
    partial.replace(path)
    return counts


def _pull(
    query: Query, store: ReadingStore, channel: Channel, told: Callable[[int], object]
) -> int:
    stored, last_ms = 0, -1
    for page in query.pages(channel):
        for part in _parts(page, last_ms):
            readings = [
                Reading(channel, at_ms, value, Flag(flags), at_ms)
                for at_ms, value, flags in zip(
                    part.at_ms.tolist(), part.raw.tolist(), part.flags.tolist(), strict=True
                )
            ]
            last_ms = readings[-1].at_ms
            stored += store.commit(Commit(readings, {channel.sensor: last_ms})).stored
        told(len(page.at_ms))
    return stored


def _parts(page: Series, last_ms: int) -> Iterator[Series]:
    """Yield a page in commits; a time that stands there twice is taken once."""
    new = np.diff(page.at_ms, prepend=last_ms) > 0
    at_ms, raw, flags = page.at_ms[new], page.raw[new], page.flags[new]
    for begin in range(0, len(at_ms), ROWS):
        part = slice(begin, begin + ROWS)
        yield Series(at_ms[part], raw[part], flags[part])


def note_pulled(data: Path, mirror: Mirror) -> None:
    """Note that the other side has all of this already, so that nothing is sent again."""
    reader = ArrivalReader(data / "readings.db")
    file = MirrorFile.open(data / "mirror.db")
    try:
        found = reader.standing()
        file.begin(found.token, target(mirror), found.last_late, found.heads)
    finally:
        reader.close()
        file.close()


def waiting(reader: ArrivalReader, cursors: Mapping[Channel, int], until_ms: int) -> int:
    """Return how many readings are not copied yet; late ones are not counted."""
    return sum(
        reader.count(channel, cursors.get(channel, -(2**62)) + 1, until_ms)
        for channel in reader.channels()
    )


def _clear(path: Path) -> None:
    for suffix in ("", "-wal", "-shm"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
