"""``cormwatch run``: watch the farm until Ctrl-C or the service manager's stop."""

import argparse
import asyncio
import contextlib
import ctypes
import logging
import os
import re
from typing import Final

from monitor.cli.common import add_farm
from monitor.cli.opening import load_farm
from monitor.daemon import second
from monitor.daemon.listening import PASSWORD_FILE
from monitor.daemon.running import Options, run
from monitor.daemon.supervising import PartDiedError
from monitor.farm import Farm
from monitor.mqtt.embedded import HOST, USER

_ARENA_MAX: Final = -8
"""The number of M_ARENA_MAX in glibc's malloc.h."""


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``run`` takes."""
    add_farm(parser)
    parser.add_argument("--port", type=int, metavar="N", help="serve the pages at this port")
    parser.add_argument(
        "--listen", type=_address, metavar="HOST:PORT",
        help="serve the pages there, as 0.0.0.0:8484, once somebody has a password",
    )  # fmt: skip
    parser.add_argument(
        "--second", action="store_true",
        help="be the second watcher: wait for a farm's heartbeats, and tell when none comes",
    )  # fmt: skip
    parser.set_defaults(run=watch)


def _address(text: str) -> tuple[str, int]:
    found = re.fullmatch(r"(?:\[([0-9A-Fa-f:]+)\]|([A-Za-z0-9._-]+)):(\d{1,5})", text)
    if found is None:
        raise argparse.ArgumentTypeError("write it as 0.0.0.0:8484")
    return found[1] or found[2], int(found[3])


def watch(args: argparse.Namespace) -> int:
    """Watch the farm; a part that keeps dying ends with 1, for the manager to start us anew."""
    os.umask(0o077)  # whatever is made from now on is its owner's alone
    _share_memory()
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    logging.getLogger("python_multipart").setLevel(logging.ERROR)  # strangers would fill the log
    farm = load_farm(args, secrets_needed=True)
    if args.second:
        return _wait(farm)

    def ready(address: str) -> None:
        print(f"Watching {farm.name}. Pages: {address}", flush=True)
        if farm.broker.embedded:
            print(_signing_in(farm), flush=True)

    try:
        asyncio.run(run(farm, Options(port=args.port, listen=args.listen, on_ready=ready)))
    except BaseExceptionGroup as failures:
        died, others = failures.split(PartDiedError)
        if others is not None or died is None:
            raise
        logging.getLogger("cormwatch").critical("%s", died.exceptions[0])
        return 1
    return 0


def _share_memory() -> None:
    """Have all threads take memory from one arena: each would keep what it once needed.

    As mallopt(3) of glibc does; where there is none nothing is done.
    """
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).mallopt(_ARENA_MAX, 1)


def _wait(farm: Farm) -> int:
    def ready(address: str) -> None:
        print(f"Waiting for the heartbeats of {farm.name} at {address}/beat", flush=True)

    asyncio.run(second.run(farm, ready))
    return 0


def _signing_in(farm: Farm) -> str:
    """Return how a sensor reaches the broker that runs beside us."""
    file = farm.data_dir / PASSWORD_FILE
    return (
        f"Sensors sign in as user {USER} with the password in {file} "
        f"({HOST}:{farm.broker.port}, MQTT 3.1.1)"
    )
