"""The daemon with a mirror and upkeep that look every half second, and wait a second at most.

Usage: python -m tests.system.impatient_daemon FOLDER

Everything else is as it is run.
"""

import asyncio
import sys
from pathlib import Path

from monitor.daemon import backing
from monitor.daemon.running import Options, run
from monitor.farm import load
from monitor.mirror import worker
from monitor.mirror.waiting import Waits

PACE = {"EVERY_S": 0.5, "Waits": lambda: Waits((0.5, 1.0))}


def _ready(address: str) -> None:
    sys.stdout.write(f"Pages: {address}\n")
    sys.stdout.flush()


def main(folder: str) -> None:
    """Watch a farm until told to stop."""
    setattr(backing, "LOOK_S", 0.5)  # noqa: B010 - it is final
    for name, value in PACE.items():
        setattr(worker, name, value)
    asyncio.run(run(load(Path(folder)), Options(port=0, on_ready=_ready)))


if __name__ == "__main__":
    main(*sys.argv[1:])
