"""The daemon, made to be gone at one moment, as in a power cut.

Usage: python -m tests.system.dying_daemon ledger|send FOLDER

``ledger``: as the first transition is about to be written. ``send``: as the first notice is
about to be sent, the transition and its notices being written.
"""

import asyncio
import os
import sys
from pathlib import Path

from monitor.courier.transport import AppriseTransport
from monitor.daemon.running import Options, run
from monitor.farm import load
from monitor.store import Ledger


def _gone(*_args: object, **_more: object) -> None:
    os._exit(9)


MOMENTS = {"ledger": (Ledger, "transact"), "send": (AppriseTransport, "send")}


def _ready(address: str) -> None:
    sys.stdout.write(f"Pages: {address}\n")
    sys.stdout.flush()


def main(moment: str, folder: str) -> None:
    """Watch a farm until the moment comes."""
    owner, name = MOMENTS[moment]
    setattr(owner, name, _gone)
    asyncio.run(run(load(Path(folder)), Options(port=0, on_ready=_ready)))


if __name__ == "__main__":
    main(*sys.argv[1:])
