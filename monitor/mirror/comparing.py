"""Whether the other side holds what we hold: count and checksum of each channel and day.

Both sides are read through, one page at a time, and summed up by the same function: times,
values and flags to the last bit. A day is one of UTC; one that was thinned here is not compared.
"""

import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from monitor.mirror.querying import Query
from monitor.model import Channel, Flag
from monitor.store import ReadingReader, Series

DAY_MS: Final = 86_400_000
LOCAL_PAGE: Final = 50_000


class Sum(NamedTuple):
    """How many readings, and a checksum of all of them in order of time."""

    n: int = 0
    checksum: int = 0


class Difference(NamedTuple):
    """A day [ms] of a channel that is not the same on both sides."""

    channel: Channel
    day_ms: int
    here: Sum
    there: Sum


@dataclass(frozen=True)
class Compared:
    """What a comparison found; ``readings`` and ``days`` are those here."""

    channels: int
    days: int
    readings: int
    differences: tuple[Difference, ...]


def sums(pages: Iterable[Series]) -> dict[int, Sum]:
    """Return the sum of each day, by its number since 1970."""
    found: dict[int, Sum] = {}
    for page in pages:
        days = page.at_ms // DAY_MS
        starts = np.flatnonzero(np.append(True, np.diff(days) != 0))
        columns = (page.at_ms, (page.raw + 0.0).view(np.int64), page.flags)  # -0 is 0
        table = np.column_stack(columns).astype("<i8")
        for begin, end in zip(starts, [*starts[1:], len(days)], strict=True):
            day = int(days[begin])
            n, checksum = found.get(day, Sum())
            part = zlib.crc32(table[begin:end].tobytes(), checksum)
            found[day] = Sum(n + int(end - begin), part)
    return found


def compare(
    reader: ReadingReader,
    query: Query,
    cursors: Mapping[Channel, int],
    since_ms: int = 0,
    told: Callable[[Channel, int], object] = lambda _channel, _readings: None,
) -> Compared:
    """Compare every channel up to where it has been copied.

    Parameters
    ----------
    reader, query
        The two sides.
    cursors : mapping
        The time of the last reading copied, per channel; what came after is not asked. [ms]
    since_ms : int
        The beginning of the first day that is compared. [ms]
    told : callable
        Told of each channel compared, and its readings here.
    """
    differences: list[Difference] = []
    days = readings = 0
    for channel, cursor_ms in sorted(cursors.items()):
        if cursor_ms < since_ms:
            continue
        thinned: set[int] = set()
        local = _local(reader, channel, since_ms, cursor_ms + 1)
        here = sums(_noting_thinned(local, thinned))
        there = sums(query.pages(channel, max(since_ms, 0), cursor_ms + 1))
        for day in sorted(here.keys() | there.keys()):
            one, other = here.get(day, Sum()), there.get(day, Sum())
            if one != other and day not in thinned:
                differences.append(Difference(channel, day * DAY_MS, one, other))
        n = sum(each.n for each in here.values())
        told(channel, n)
        days, readings = days + len(here), readings + n
    return Compared(len(cursors), days, readings, tuple(differences))


def _noting_thinned(pages: Iterable[Series], days: set[int]) -> Iterator[Series]:
    """Yield pages; add the days, by number since 1970, of which readings were taken away here."""
    for page in pages:
        thinned = (page.flags & int(Flag.THINNED)) != 0
        days.update((page.at_ms[thinned] // DAY_MS).tolist())
        yield page


def _local(
    reader: ReadingReader, channel: Channel, since_ms: int, until_ms: int
) -> Iterator[Series]:
    while True:
        page = reader.page(channel, since_ms, until_ms, LOCAL_PAGE)
        if len(page.at_ms):
            yield page
        if len(page.at_ms) < LOCAL_PAGE:
            return
        since_ms = int(page.at_ms[-1]) + 1
