"""The daemon on a computer whose clock is set by hand: a file says by how much it is off.

Usage: python -m tests.system.stepped_daemon FOLDER

The file FOLDER.clock-off holds the milliseconds; without it the clock
is right.
"""

import asyncio
import sys
import time
from pathlib import Path

from monitor.clock import SystemClock
from monitor.daemon.running import Options, run
from monitor.farm import load


class SetClock(SystemClock):
    """The system's clock, as if somebody had set it wrong or right."""

    def __init__(self, file: Path) -> None:
        self._file = file
        super().__init__()

    def _offset_ms(self) -> int:  # type: ignore[override]
        try:
            off_ms = int(self._file.read_text(encoding="utf-8"))
        except (FileNotFoundError, ValueError):
            off_ms = 0
        return (time.time_ns() - time.monotonic_ns()) // 1_000_000 + off_ms


def _ready(address: str) -> None:
    sys.stdout.write(f"Pages: {address}\n")
    sys.stdout.flush()


def main(folder: str) -> None:
    """Watch a farm until told to stop."""
    clock = SetClock(Path(folder).with_suffix(".clock-off"))
    asyncio.run(run(load(Path(folder)), Options(clock, 0, on_ready=_ready)))


if __name__ == "__main__":
    main(*sys.argv[1:])
