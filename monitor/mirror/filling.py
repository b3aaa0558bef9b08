"""Sending everything that waits, with progress: by a command, or by the daemon beside it."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from monitor.errors import BusyError, MirrorError
from monitor.farm import Mirror
from monitor.mirror.pulling import waiting
from monitor.mirror.worker import Forwarder, Source
from monitor.store import ArrivalReader, MirrorFile, lock

LOOK_S: Final = 1.0
Progress = Callable[[int, int], None]
"""Told of the readings sent so far, and of those that there are to send."""


def fill(mirror: Mirror, source: Source, told: Progress) -> tuple[int, int]:
    """Send everything that waits; where a daemon does that already, wait until it has.

    Returns
    -------
    tuple
        How many readings were sent meanwhile, and how many refused.

    Raises
    ------
    MirrorError
        If the other side cannot be written to: what was sent is noted, run it again.
    """
    try:
        with lock(source.data / "mirror.lock"):
            return _send(mirror, source, told)
    except BusyError:
        return _watch(source, told)


def _send(mirror: Mirror, source: Source, told: Progress) -> tuple[int, int]:
    forwarder = Forwarder(mirror, source)
    try:
        begun = forwarder.file.outcome()
        total: int | None = None
        while True:
            forwarder.step()
            now = forwarder.file.outcome()
            sent = now.sent - begun.sent
            if now.failing_since_ms is not None:
                raise _stopped(now.error)
            if total is None:
                total = sent + _left(source, forwarder.file)
            told(sent, max(total, sent))
            if forwarder.standing.oldest_ms is None and not forwarder.more:
                return sent, now.refused - begun.refused
    finally:
        forwarder.close()


def _watch(source: Source, told: Progress) -> tuple[int, int]:
    file = MirrorFile.open(source.data / "mirror.db")
    try:
        begun = file.outcome()
        while True:
            now, left = file.outcome(), _left(source, file)
            sent = now.sent - begun.sent
            told(sent, sent + left)
            if now.failing_since_ms is not None:
                raise _stopped(now.error)
            if not left:
                return sent, now.refused - begun.refused
            time.sleep(LOOK_S)
    finally:
        file.close()


def _left(source: Source, file: MirrorFile) -> int:
    reader = ArrivalReader(Path(source.data / "readings.db"))
    try:
        until_ms = source.clock.now_ms() - source.settle_ms
        return waiting(reader, file.position().cursors, until_ms)
    finally:
        reader.close()


def _stopped(error: str) -> MirrorError:
    return MirrorError(f"the mirror stopped taking readings: {error}; what it took is noted")
