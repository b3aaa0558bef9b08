"""The daemon by a clock that runs faster, from late morning on: for spells of many minutes.

Usage: python -m tests.system.fast_daemon RATE FOLDER

What is judged runs by that clock, as in the demo; connecting and sending stay in real time.
"""

import asyncio
import sys
from pathlib import Path

from monitor.clock import ScaledClock
from monitor.daemon.running import Options, run
from monitor.farm import load

LATE_MORNING_MS = 1_781_017_200_000  # 2026-06-09 11:00 in New York: no morning, no sunset near


def _ready(address: str) -> None:
    sys.stdout.write(f"Pages: {address}\n")
    sys.stdout.flush()


def main(rate: str, folder: str) -> None:
    """Watch a farm until told to stop."""
    clock = ScaledClock(LATE_MORNING_MS, float(rate))
    asyncio.run(run(load(Path(folder)), Options(clock, 0, on_ready=_ready)))


if __name__ == "__main__":
    main(*sys.argv[1:])
