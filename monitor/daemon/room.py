"""How long the disk lasts: what is free, at what rate it fills, and an alarm before it is full."""

import contextlib
import shutil
import threading
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from monitor.clock import Clock
from monitor.daemon.judge import Judge
from monitor.errors import StoreError
from monitor.model import AlarmKind
from monitor.phrase import Phrase
from monitor.store import Ledger, ReadingReader

KEY: Final = "disk_free"
DAY_MS: Final = 86_400_000
EVERY_MS: Final = 600_000
_SAMPLES: Final = 30
_SEEN_DAYS: Final = (2.0, 15.0)
"""The loss of free space is judged between samples so many days apart."""
_RATE_DAYS: Final = 7
_BYTES_AT_LEAST: Final = 16.0
"""What a new reading takes, summaries included, where a thinned file would say less."""
_SOON_DAYS: Final = (60.0, 75.0)
_SHORT_DAYS: Final = (7.0, 9.0)
"""Told below the first, over above the second. [d]"""
_CENTURY: Final = 100
_SOON_SHARE: Final = 0.10
_SHORT_SHARE: Final = 0.02
_DETAIL: Final = {
    AlarmKind.DISK_FILLING: Phrase("At the rate of the last days it is full within two months"),
    AlarmKind.DISK_SHORT: Phrase(
        "At the rate of the last days it is full within a week: then readings are judged, and "
        "no longer kept"
    ),
}


@dataclass(frozen=True, slots=True)
class Room:
    """What is free on the disk of the readings [bytes], and for how long [d], None if unknown."""

    free: int
    total: int
    days: float | None

    def word(self) -> str:
        """Return it in a few words: ``12.3 GB free, full in about 7 months at this rate``."""
        free = f"{self.free / 1e9:.1f} GB free" if self.free >= 1e9 else (  # noqa: PLR2004 - a GB
            f"{self.free / 1e6:.0f} MB free")  # fmt: skip
        if self.days is None:
            return free
        return f"{free}, full in {lasting(self.days)} at this rate"

    def short(self, *, told: bool) -> bool:
        """Return whether days are left; ``told`` whether that is told already."""
        return self._below(_SHORT_DAYS[told], _SHORT_SHARE)

    def filling(self, *, told: bool) -> bool:
        """Return whether weeks are left."""
        return self._below(_SOON_DAYS[told], _SOON_SHARE)

    def _below(self, days: float, share: float) -> bool:
        return self.free < share * self.total or (self.days is not None and self.days < days)


def lasting(days: float) -> str:
    """Return a length of time to plan by: ``about 7 months``."""
    for size, noun, most in ((1, "day", 15), (7, "week", 60), (30.44, "month", 730)):
        if days < most:
            number = max(round(days / size), 1)
            return f"about {number} {noun}{'s' * (number != 1)}"
    years = days / 365.25
    return f"about {years:.0f} years" if years < _CENTURY else "over a hundred years"


def room_of(
    data: Path, reader: ReadingReader, now_ms: int, lost_per_day: float = 0.0
) -> Room:  # fmt: skip
    """Return the room on the disk of a farm's data.

    Parameters
    ----------
    data : Path
        The folder of the readings.
    reader : ReadingReader
        The readings: what one takes, and how many came in the last week.
    now_ms : int
        Now. [ms]
    lost_per_day : float
        What the disk lost a day by whatever else writes there. [bytes]
    """
    disk = shutil.disk_usage(data)
    since_ms = now_ms - _RATE_DAYS * DAY_MS
    everything, lately = reader.counted(0), reader.counted(since_ms)
    first = [at for each in reader.channels() if (at := reader.first_at(each)) is not None]
    days = min((now_ms - min(first, default=now_ms)) / DAY_MS, _RATE_DAYS)
    rate = max(lost_per_day, 0.0)
    if days >= 1 and everything:
        size = (data / "readings.db").stat().st_size
        rate = max(rate, max(size / everything, _BYTES_AT_LEAST) * lately / days)
    return Room(disk.free, disk.total, disk.free / rate if rate > 0 else None)


class Disk:
    """Measures now and then, in a thread of its own, and has it told by the watch."""

    def __init__(
        self, data: Path, reader: Callable[[], ReadingReader], ledger: Ledger, clock: Clock
    ) -> None:
        self._data, self._reader, self._ledger, self._clock = data, reader, ledger, clock
        self._measured_ms: int | None = None
        self._lock = threading.Lock()
        self._told = dict.fromkeys(_DETAIL, False)
        self.room: Room | None = None

    def measure(self) -> None:
        """Look at the disk, at most every ten minutes.

        Raises
        ------
        StoreError
            If readings or ledger cannot be read.
        """
        now_ms = self._clock.now_ms()
        if self._measured_ms is not None and 0 <= now_ms - self._measured_ms < EVERY_MS:
            return
        with closing(self._reader()) as reader:
            self.room = room_of(self._data, reader, now_ms, self._lost_per_day(now_ms))
        self._measured_ms = now_ms

    def _lost_per_day(self, now_ms: int) -> float:
        """Return what the disk lost a day by the samples of the last weeks; take today's."""
        kept: list[list[int]] = self._ledger.get(KEY) or []
        free = shutil.disk_usage(self._data).free
        if not kept or not 0 <= now_ms - kept[-1][0] < DAY_MS:
            kept = [each for each in kept if each[0] < now_ms][-_SAMPLES:]
            with contextlib.suppress(StoreError):  # a full disk: the next turn tries again
                self._ledger.put(KEY, [*kept, [now_ms, free]])
        least, most = _SEEN_DAYS
        ages = [((now_ms - at_ms) / DAY_MS, was) for at_ms, was in kept]
        return max(((was - free) / age for age, was in ages if least <= age <= most), default=0.0)

    def mind(self, judge: Judge, now_ms: int) -> None:
        """Raise, or end, that the disk is filling; while nothing can be kept that says it all."""
        room = self.room
        if room is None:
            return
        told = self._told
        short = room.short(told=told[AlarmKind.DISK_SHORT])
        filling = not short and room.filling(told=told[AlarmKind.DISK_FILLING])
        for kind, bad in ((AlarmKind.DISK_SHORT, short), (AlarmKind.DISK_FILLING, filling)):
            told[kind] = bad
            judge.own(kind, now_ms, bad=bad, detail=_DETAIL[kind])
